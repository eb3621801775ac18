"""A fact of the record in words, and in the fields of its form."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from suffice.clinical import entry as domain
from suffice.clinical.entry import kind_of
from suffice.clinical.reading.quantity import QUANTITIES
from suffice.language.facts import parts_of
from suffice.language.kinds import KINDS, SETTINGS, choice_name, setting_name
from suffice.web.shown.wording import Wording, as_heading, in_words


def kind_word(fact: domain.Fact) -> str:
    """The kind of a fact in the clinic's language."""
    return as_heading(KINDS[kind_of(fact)])


def value_word(value: str | None) -> str:
    """A choice of the record in the clinic's language; empty when it was not asked."""
    return in_words(choice_name(value))


def describe(fact: domain.Fact, wording: Wording) -> str:
    """A fact in one line, field by field; what was not asked is left out."""
    return ", ".join(in_words(part) for part in parts_of(fact, wording.when))


def writer(wording: Wording) -> Callable[[str, Any], str]:
    """A function that writes a stored value for a field, exactly: reading it back gives it again.

    The stored unit stands beside the number, so that correcting one field of an entry can never
    round another one.
    """

    def write(kind: str, value: Any) -> str:
        if value is None:
            return ""
        if isinstance(value, datetime):
            return wording.field(value)
        if kind == "gestation":
            return wording.gestation(int(value))
        digits = f"{Decimal(repr(float(value))):f}"  # no power of ten: no reader takes one
        exact = digits.removesuffix(".0").replace(".", wording.mark)
        return f"{exact} {QUANTITIES[kind].units[0].sign}"

    return write


def setting_word(setting: Any) -> str:
    """A setting in the clinic's language."""
    return as_heading(setting_name(getattr(setting, "value", setting) or None))


def setting_words() -> Sequence[tuple[str, str]]:
    """Every setting with its word."""
    return tuple((setting, as_heading(name)) for setting, name in SETTINGS.items())
