"""A fact of the record in words, field by field, as its declaration says it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, Final

from suffice.clinical.entry import Fact
from suffice.clinical.entry.field import (
    Answered,
    Chosen,
    Counted,
    Field,
    Happened,
    Kept,
    Listed,
    Measured,
    Moment,
    OfContact,
    OfFlag,
    OfWord,
    Written,
    fields_of,
)
from suffice.clinical.feed.event import FeedEvent
from suffice.clinical.reading.quantity import QUANTITIES
from suffice.clinical.reading.writing import gestation_text
from suffice.knowledge.store import load
from suffice.language.terms import flag_name, observed, term_name
from suffice.message import Amount, Instant, Number, Param, Words, message
from suffice.message import Listed as Series

UNIT_OF: Final = {"weight": "g", "volume": "mL", "temperature": "Cel", "length": "cm"}


def parts_of(fact: Fact, when: Callable[[datetime], Param] | None = None) -> tuple[Words, ...]:
    """What a fact says, one part a field; what was not asked is left out.

    Args:
        fact: The fact.
        when: How a moment is told, where the reader wants it in another form.
    """
    parts: list[Words] = []
    for name, field in fields_of(type(fact)).items():
        value = getattr(fact, name)
        if isinstance(field, OfWord):
            part: Words = observed(getattr(fact, field.word), value)
        elif when is not None and isinstance(field, Moment) and value is not None:
            part = part_of(field, value, when(value))
        else:
            part = part_of(field, value)
        if part and name == "over_h" and parts:
            parts[-1] = message("{count} {hours}", count=parts[-1], hours=part)
        elif part:
            parts.append(part)
    return tuple(parts)


def part_of(field: Field, value: Any, shown: Param | None = None) -> Words:
    """One field in the line of its fact; empty where there is nothing to say.

    Args:
        field: The declaration.
        value: As it is stored.
        shown: Takes the place of the value in words where the reader wants another form.
    """
    if isinstance(field, Happened):
        return _heard(value)
    if value is None or isinstance(field, Kept | OfContact):
        return ""
    if isinstance(field, Counted) and value == field.unsaid_count:
        return ""
    if isinstance(field, Answered):
        return field.yes if value else field.no
    named = _name_of(field, value)
    if named is not None:
        return field.phrase.with_params(value=named) if field.phrase and named else named
    if field.phrase and field.phrase.plural:
        return field.phrase.with_params(count=value)
    text = value_of(field, value) if shown is None else shown
    return field.phrase.with_params(value=text) if field.phrase else message("{value}", value=text)


def _heard(events: tuple[FeedEvent, ...]) -> Words:
    """How many swallows were recorded in a watched feed; nothing where none of its events was."""
    if not events:
        return ""
    count = sum(one.what == "swallow" for one in events)
    return message("{count} swallow", plural="{count} swallows", count=count)


def _name_of(field: Field, value: Any) -> Words | None:
    """What is named or was typed; None for what is measured, counted or timed."""
    if isinstance(field, Chosen):
        return dict(field.choices).get(str(value), str(value))
    if isinstance(field, Listed):
        return term_name(field.vocabulary, value)
    if isinstance(field, OfFlag):
        return flag_name(value)
    return str(value) if isinstance(field, Written) else None


def value_of(field: Field, value: Any) -> Param:
    """A measured or counted value, or an instant."""
    if isinstance(field, Moment):
        return Instant(value)
    if not isinstance(field, Measured):
        return Number(value, 0)
    quantity = field.quantity
    if quantity in UNIT_OF:
        return Amount(value, UNIT_OF[quantity])
    if quantity == "gestation":
        return gestation_text(int(value))
    if quantity == "duration":
        return Amount(value, "min", 0)
    if quantity == "hours":
        return Number(value, 0 if value == int(value) else 1)
    return _in_every_unit(quantity, value)


def _in_every_unit(quantity: str, value: float) -> Words:
    """A value in each of the units in which people read it, the stored one first."""
    content, units = load(), QUANTITIES[quantity].units
    factors = [content.constant(one.factor).value if one.factor else 1 for one in units]
    amounts = tuple(
        Amount(value / factor, unit.sign) for unit, factor in zip(units, factors, strict=True)
    )
    if len(amounts) == 1:
        return message("{amount}", amount=amounts[0])
    return message("{amount} ({others})", amount=amounts[0], others=Series(amounts[1:]))
