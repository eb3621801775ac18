"""What a plan says of the marks of day 7 and day 14, where milk has to be expressed from the start."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from suffice.clinical.production_mark import Mark, MarkParameters, day_totals, marks
from suffice.clinical.units import HOURS_PER_DAY
from suffice.knowledge.store import Content
from suffice.message import Amount, Chance, Message, message
from suffice.plan.known import Asked, sessions_in_24_h
from suffice.plan.size import Known

PUMPED: Final = frozenset({"pump_dependent", "unit_start"})
"""Problems in which nothing is removed but by expressing."""


def marks_of(asked: Asked, known: Known) -> tuple[Mark, ...]:
    """The marks that are still to come; none where the infant feeds at the breast and nobody named it pumped."""
    born_at = asked.infant.born_at
    is_pumped = bool(asked.problems & PUMPED) or (not known.at_breast and sessions_in_24_h(asked))
    parameters = mark_parameters(asked.content)
    if born_at is None or not is_pumped:
        return ()
    if known.age_h / HOURS_PER_DAY >= parameters.late_d.value:
        return ()
    totals = day_totals(asked.entries, born_at=born_at, as_of=asked.as_of, parameters=parameters)
    return marks(totals, parameters)


def mark_words(mark: Mark) -> Message:
    """One mark in a sentence."""
    return message(
        "Day {day}: about {expected} ({low} to {high}); {mark} or more: {chance}.",
        day=mark.day,
        expected=Amount(mark.median_ml, "mL", 0),
        low=Amount(mark.low_ml, "mL", 0),
        high=Amount(mark.high_ml, "mL", 0),
        mark=Amount(mark.mark_ml, "mL", 0),
        chance=Chance(mark.chance_fraction),
    )


@lru_cache(maxsize=8)
def mark_parameters(content: Content) -> MarkParameters:
    """The values of the marks; kept.

    Raises:
        ContentError: CONTENT-020 for each constant that is missing, as in a set of the past.
    """
    return MarkParameters.from_content(content.flat, content.series)
