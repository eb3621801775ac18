"""What a text may mean, and what to ask when it may mean more than one thing.

A :class:`Reading` holds every value that a text may mean. It is *clear* when there is one;
otherwise it carries doubts (``Problem.doubtful``) and the reader is asked. A text that cannot be
read, or whose every reading is impossible, is refused by :func:`resolve`. Nothing is changed
silently: `read_as` always says how the text was taken.
"""

from __future__ import annotations

import math
from decimal import Decimal

import msgspec

from suffice.clinical.reading.quantity import QUANTITIES
from suffice.clinical.units import DECIMAL_BASE
from suffice.errors import InputError, Problem
from suffice.message import Amount, Listed, Number, Param, Words, joined, message


class Candidate(msgspec.Struct, frozen=True, kw_only=True):
    """One value a text may mean, in the stored unit, and how the text was taken for that."""

    value: float
    read_as: Words


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """What a text may mean.

    Attributes:
        text: As it was written.
        unit: Stored unit of the values: g, mL, Cel, cm, d, min.
        candidates: At least one; the likeliest first.
        doubts: What to ask the reader; empty when the reading is clear.
    """

    text: str
    unit: str
    candidates: tuple[Candidate, ...]
    doubts: tuple[Problem, ...] = ()

    @property
    def is_clear(self) -> bool:
        """Whether nothing needs to be asked."""
        return not self.doubts

    @property
    def read_as(self) -> Words:
        """How the likeliest candidate was taken."""
        return self.candidates[0].read_as

    def accept(self, *, value: float | None = None) -> float:
        """The value, in the stored unit.

        Args:
            value: Value of the candidate that the reader was shown and said yes to.

        Raises:
            InputError: With the doubts, when there are any and none of the candidates was
                confirmed.
        """
        for candidate in self.candidates:
            if value is not None and math.isclose(candidate.value, value):
                return candidate.value
        if self.doubts:
            raise InputError(*self.doubts)
        return self.candidates[0].value


class Possible(msgspec.Struct, frozen=True, kw_only=True):
    """A candidate before its range is asked: sure of its unit, usual in its numeral."""

    value: Decimal
    read_as: Words
    is_usual: bool
    has_unit: bool


_SHOWN = 60
"""Characters of a text that a message repeats."""
_HUGE_DIGITS = 15
"""From here on a number is shown as a power of ten: nobody counts its digits."""


def resolve(
    text: str, kind: str, unit: str, possible: list[Possible], span: tuple[float, float]
) -> Reading:
    """The reading of `text`: clear, or with doubts.

    Args:
        text: As it was written.
        kind: What is read: a name of `clinical.reading.quantity`.
        unit: Stored unit.
        possible: Every value the text may mean, the likeliest first; empty when unreadable.
        span: Lowest and highest possible value.

    Raises:
        InputError: READ-001 when `possible` is empty, READ-002 when all of it is impossible.
    """
    if not possible:
        raise InputError(unreadable(text, kind))
    low, high = (Decimal(repr(edge)) for edge in span)
    inside = [one for one in possible if low <= one.value <= high]
    if not inside:
        raise InputError(_impossible(text, kind, unit, possible[0], span))
    distinct: dict[Decimal, Possible] = {}
    for one in inside:
        distinct.setdefault(one.value, one)
    # A numeral with two readings is settled by the reader's marks only where the other reading
    # is impossible; a bare number only where it stands in a unit the reader is sure to mean.
    with_unit = [one for one in distinct.values() if one.has_unit]
    is_clear = len(with_unit) == 1 and with_unit[0].is_usual
    ordered = with_unit + [one for one in distinct.values() if not one.has_unit]
    candidates = tuple(Candidate(value=float(one.value), read_as=one.read_as) for one in ordered)
    if is_clear:
        return Reading(text=text, unit=unit, candidates=candidates[:1])
    return Reading(
        text=text, unit=unit, candidates=candidates, doubts=(_doubt(text, kind, ordered),)
    )


def _doubt(text: str, kind: str, ordered: list[Possible]) -> Problem:
    """What to ask: which of the readings is meant."""
    meant = Listed(tuple(one.read_as for one in ordered), "or")
    if any(one.has_unit for one in ordered):
        return Problem(
            code="READ-004",
            what=message("'{text}'", text=text),
            why=message("has a mark that may begin decimals or part thousands."),
            fix=message("Confirm: {meant}?", meant=meant),
            where=kind,
            doubtful=True,
        )
    ways = (
        message("can be taken in more than one way.")
        if QUANTITIES[kind].is_time
        else message("does not say its unit.")
    )
    return Problem(
        code="READ-003",
        what=message("'{text}'", text=text),
        why=ways,
        fix=message("Confirm: {meant}?", meant=meant),
        where=kind,
        doubtful=True,
    )


def unreadable(text: str, kind: str) -> Problem:
    """The problem of a text that is not a value of that kind."""
    return Problem(
        code="READ-001",
        what=message("'{text}'", text=text)
        if len(text) <= _SHOWN
        else message("'{text}…'", text=text[:_SHOWN]),
        why=message("cannot be read as a {kind}.", kind=QUANTITIES[kind].called),
        fix=QUANTITIES[kind].example,
        where=kind,
    )


def _impossible(
    text: str, kind: str, unit: str, likeliest: Possible, span: tuple[float, float]
) -> Problem:
    shifted = likeliest.value / DECIMAL_BASE
    low, high = (Decimal(repr(edge)) for edge in span)
    fix: Words = message("Correct the value or its unit.")
    if low <= shifted <= high and not QUANTITIES[kind].is_time:
        perhaps = message("Perhaps one digit too many: {value}?", value=_amount(shifted, unit))
        fix = joined(perhaps, fix)
    return Problem(
        code="READ-002",
        what=message("'{text}' (read as {read_as})", text=text, read_as=likeliest.read_as),
        why=message(
            "is outside what is possible for a {kind}, {low} to {high}.",
            kind=QUANTITIES[kind].called,
            low=_amount(low, unit),
            high=_amount(high, unit),
        ),
        fix=fix,
        where=kind,
    )


def _amount(value: Decimal, unit: str) -> Param:
    """A stored value with its unit: in the reader's where it has one of its own."""
    if value.adjusted() >= _HUGE_DIGITS:
        return f"{short(value)} {unit}"
    return Amount(float(value), unit)


def shown(number: Decimal) -> Param:
    """A number for a sentence, with as many decimals as :func:`short` gives it."""
    text = short(number)
    if number.adjusted() >= _HUGE_DIGITS:
        return text
    return Number(float(text), len(text.partition(".")[2]))


def short(number: Decimal) -> str:
    """A number for a sentence: up to two decimals, none where it is whole; powers where it is huge."""
    if number.adjusted() >= _HUGE_DIGITS:
        return f"{number:.2E}"
    rounded = number.quantize(Decimal("0.01")).normalize()
    return f"{rounded:f}"
