"""The total of a mood questionnaire, as measures of the parent for the table of flags."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Final

from suffice.assess.answered import answers_in
from suffice.assess.rules.table import Measure
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Observation
from suffice.clinical.working import Figure, Working
from suffice.message import Instant, message

MOOD_TOTAL: Final = "mood_total"
"""Observation of the parent; the total alone is on the record, the form is not."""
UNIT: Final = "{points}"


def mood_measures(
    entries: Sequence[Entry], born_at: datetime | None
) -> dict[str, tuple[Measure, ...]]:
    """The highest and the latest total that no physician has answered; nothing where there is none.

    Args:
        entries: The current entries about the parent, in order of time.
        born_at: When the youngest infant was born; None where it is not known.
    """
    answers = answers_in(entries)
    open_ = [one for one in _totals(entries, born_at) if not answers.cover(*one.entry_ids)]
    if not open_:
        return {}
    return {
        "highest_mood_total_points": (max(open_, key=lambda one: one.value),),
        "last_mood_total_points": (open_[-1],),
    }


def _totals(entries: Sequence[Entry], born_at: datetime | None) -> Iterator[Measure]:
    for entry in entries:
        fact = entry.fact
        if not isinstance(fact, Observation) or fact.what != MOOD_TOTAL:
            continue
        points = fact.number
        if points is None:
            continue
        working = Working(formula=message("as entered"))
        yield Measure(
            value=points,
            age_h=0.0 if born_at is None else max(elapsed_h(born_at, entry.true_at), 0.0),
            at=entry.true_at,
            figure=Figure(value=points, unit=UNIT, working=working),
            entry_ids=(entry.id,),
            gaps=(("at", Instant(entry.true_at)),),
        )
