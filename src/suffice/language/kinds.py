"""What kinds of entry, choices, levels and the bases of values are called, once for all readers.

Names begin with a small letter, as in a sentence; whoever heads a line with one says
:func:`suffice.language.text.headed`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from suffice.message import Message, Words, message

KINDS: Final[Mapping[str, Message]] = {
    "birth": message("birth"),
    "weight": message("weight"),
    "size": message("length and head"),
    "test weight": message("test weight"),
    "feed": message("feed"),
    "expression": message("expression session"),
    "wet": message("wet diapers"),
    "stool": message("stools"),
    "temperature": message("temperature"),
    "illness": message("illness"),
    "contact": message("contact"),
    "identity": message("name"),
    "note": message("note"),
    "withdrawal": message("withdrawn"),
}
"""Tag of a fact to its name."""

CHOICES: Final[Mapping[str, Message]] = {
    "male": message("boy"),
    "female": message("girl"),
    "vaginal": message("vaginal"),
    "assisted vaginal": message("assisted vaginal"),
    "caesarean": message("caesarean"),
    "naked": message("naked"),
    "dry diaper": message("dry diaper"),
    "clothed": message("clothed"),
    "before feed": message("before a feed"),
    "after feed": message("after a feed"),
    "left": message("left"),
    "right": message("right"),
    "both": message("both sides"),
    "breast": message("at the breast"),
    "expressed": message("expressed milk"),
    "donor": message("donor milk"),
    "formula": message("formula"),
    "hand": message("by hand"),
    "pump": message("pump"),
    "hand and pump": message("hand and pump"),
    "black": message("black"),
    "green": message("green"),
    "brown": message("brown"),
    "yellow": message("yellow"),
    "pale": message("pale"),
    "red": message("red"),
    "smear": message("smear"),
    "small": message("small"),
    "large": message("large"),
    "axilla": message("axilla"),
    "rectum": message("rectum"),
    "ear": message("ear"),
    "forehead": message("forehead"),
    "measured": message("measured"),
    "observed": message("observed"),
    "reported": message("reported"),
}
"""Value of a choice on the record to its name."""

SETTINGS: Final[Mapping[str, Message]] = {
    "ward": message("ward"),
    "neonatal unit": message("neonatal unit"),
    "clinic": message("clinic"),
    "home": message("home"),
    "phone": message("phone"),
}
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
    "red": message("red flag"),
    "amber": message("look"),
    "note": message("note"),
}
"""Level of a finding."""

TIERS: Final[Mapping[str, Message]] = {
    "RED": message("now"),
    "LIKELY_SHORT": message("likely short"),
    "OVERDUE": message("overdue"),
    "WATCH": message("watch"),
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
