"""What kinds of entry, choices, levels and the bases of values are called, once for all readers.

Names begin with a small letter, as in a sentence; whoever heads a line with one says
:func:`suffice.language.text.upper_first`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from suffice.clinical import entry as declared
from suffice.clinical.entry.contact import SETTING
from suffice.clinical.entry.field import Chosen, fields_of
from suffice.message import Message, Words, message

KINDS: Final[Mapping[str, Message]] = {
    name: kind.declared.name for name, kind in declared.KINDS.items()
}
"""Name of a kind of fact to what it is called."""


def _choices() -> Iterator[tuple[str, Message]]:
    for kind in declared.KINDS.values():
        for field in fields_of(kind).values():
            if isinstance(field, Chosen):
                yield from field.choices


CHOICES: Final[Mapping[str, Message]] = {
    **dict(_choices()),
    "measured": message("measured"),
    "observed": message("observed"),
    "reported": message("reported"),
}
"""Value of a choice on the record to its name."""

SETTINGS: Final[Mapping[str, Message]] = dict(SETTING.choices)
"""Where a family is seen."""

BASES: Final[Mapping[str, Message]] = {
    "published": message("published"),
    "common practice": message("common practice"),
    "derived": message("derived"),
    "judgement": message("judgement"),
    "from memory, to verify": message("from memory, to verify"),
}
"""How far a value of the content store can be trusted."""

READINGS: Final[Mapping[str, Message]] = {
    "table": message("table"),
    "abstract": message("abstract"),
    "excerpt": message("excerpt"),
    "secondary source, verify": message("secondary source, to verify"),
}
"""How much of a published source was seen."""

AXES: Final[Mapping[str, Message]] = {
    "age_h": message("age in hours"),
    "age_d": message("age in days"),
    "age_month": message("age in months"),
    "day": message("day of life"),
}
"""Along what a value of the content store changes."""

LEVELS: Final[Mapping[str, Message]] = {
    "emergency": message("emergency now"),
    "physician": message("physician today"),
    "consultant": message("within a day"),
    "look": message("look again"),
    "note": message("note"),
}
"""Level of a finding."""

TIERS: Final[Mapping[str, Message]] = {
    "NOW": message("now"),
    "TODAY": message("today"),
    "HANDED_OVER": message("handed over"),
    "WITHIN_A_DAY": message("within a day"),
    "NOT_KNOWN": message("not known"),
    "LOOK_AGAIN": message("look again"),
    "SETTLED": message("settled"),
}
"""Name of a tier of the caseload, the most urgent first."""


SEVERITIES: Final[Mapping[str, Message]] = {
    "note": message("note"),
    "caution": message("caution"),
    "refusal": message("refusal"),
}
"""How much a caution of the engine takes from its answer."""

VIEWS: Final[Mapping[str, Message]] = {
    "requirement": message("requirement"),
    "observed": message("what was taken"),
    "allotment": message("as is taught"),
}
"""Kinds of answers to 'how much a day'."""

OUTDATED: Final[Mapping[str, Message]] = {
    "NEW_ENTRIES": message("entries were made since"),
    "TIME": message("time has passed since"),
    "RULES": message("content, policy or engine have changed since"),
    "NEVER": message("never assessed"),
}
"""Why a row of the caseload does not say how things stand now."""


def choice_name(value: str | None) -> Words:
    """What a choice of the record is called; empty where it was not asked."""
    return "" if value is None else CHOICES.get(value, value)


def setting_name(setting: str | None) -> Words:
    """What a setting is called; empty where none is known."""
    return "" if setting is None else SETTINGS.get(setting, setting)
