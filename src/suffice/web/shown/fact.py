"""A fact of the record in words, and in the fields of its form."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from suffice.clinical import entry as domain
from suffice.clinical.entry import kind_of
from suffice.clinical.entry.field import (
    Answered,
    Chosen,
    Counted,
    Field,
    Kept,
    Listed,
    Measured,
    Moment,
    Written,
    fields_of,
)
from suffice.clinical.reading.quantity import QUANTITIES, Quantity
from suffice.clinical.reading.writing import NO_BREAK_SPACE
from suffice.knowledge.store import load
from suffice.language.kinds import KINDS, SETTINGS, choice_name, setting_name
from suffice.language.terms import term_name
from suffice.web.shown.wording import Wording, as_heading, in_words


def kind_word(fact: domain.Fact) -> str:
    """The kind of a fact in the clinic's language."""
    return as_heading(KINDS[kind_of(fact)])


def value_word(value: str | None) -> str:
    """A choice of the record in the clinic's language; empty when it was not asked."""
    return in_words(choice_name(value))


def describe(fact: domain.Fact, wording: Wording) -> str:
    """A fact in one line, field by field; what was not asked is left out."""
    parts: list[str] = []
    for name, field in fields_of(type(fact)).items():
        part = _part(field, getattr(fact, name), wording)
        if part and name == "over_h" and parts:
            parts[-1] = f"{parts[-1]} {part}"  # so many in so many hours
        elif part:
            parts.append(part)
    return ", ".join(parts)


def _part(field: Field, value: Any, wording: Wording) -> str:
    """One field in the line of its fact."""
    if value is None or isinstance(field, Kept):
        return ""
    if isinstance(field, Counted) and value == field.unsaid_count:
        return ""
    if isinstance(field, Answered):
        return in_words(field.yes if value else field.no)
    if isinstance(field, Chosen):
        return in_words(dict(field.choices).get(str(value), str(value)))
    if isinstance(field, Listed):
        return in_words(term_name(field.vocabulary, value))
    if isinstance(field, Written):
        return str(value)
    text = _value(field, value, wording)
    return in_words(field.phrase.with_params(value=text)) if field.phrase else text


def _value(field: Field, value: Any, wording: Wording) -> str:
    if isinstance(field, Moment):
        return wording.when(value)
    if not isinstance(field, Measured):
        return wording.number(value)
    whole = value == int(value)
    shown: dict[str, Callable[[], object]] = {
        "weight": lambda: wording.weight(value),
        "volume": lambda: wording.volume(value),
        "temperature": lambda: wording.temperature(value),
        "length": lambda: wording.length(value),
        "gestation": lambda: wording.gestation(int(value)),
        "duration": lambda: f"{wording.number(value)}{NO_BREAK_SPACE}min",
        "hours": lambda: wording.number(value, 0 if whole else 1),
    }
    if field.quantity in shown:
        return str(shown[field.quantity]())
    return _in_every_unit(QUANTITIES[field.quantity], value, wording)


def _in_every_unit(quantity: Quantity, value: float, wording: Wording) -> str:
    """A value in each of the units in which people read it, the stored one first."""
    content = load()
    factors = [content.constant(one.factor).value if one.factor else 1 for one in quantity.units]
    texts = [
        str(wording.quantity(value / factor, unit.sign))
        for unit, factor in zip(quantity.units, factors, strict=True)
    ]
    return f"{texts[0]} ({', '.join(texts[1:])})" if texts[1:] else texts[0]


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
