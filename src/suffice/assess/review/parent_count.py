"""Numbers that are asked or counted of the parent, as measures for the table of flags.

The total of a mood questionnaire, pulse and breaths. Each is an observation whose answer is a number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Final, NamedTuple

from suffice.assess.answered import answers_in
from suffice.assess.rules.table import Measure
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Observation
from suffice.clinical.working import Figure, Working
from suffice.message import Instant, message

PER_MINUTE: Final = "{#}/min"


class Asked(NamedTuple):
    """An observation, and the measures of it.

    Attributes:
        unit: The unit of its answer.
        highest: Measure of the highest that no physician has answered.
        last: Measure of the latest such; empty where nothing asks it.
    """

    unit: str
    highest: str
    last: str = ""


COUNTS: Final = {
    "mood_total": Asked("{points}", "highest_mood_total_points", "last_mood_total_points"),
    "parent_pulse": Asked(PER_MINUTE, "highest_pulse_per_min"),
    "parent_breaths": Asked(PER_MINUTE, "highest_breaths_per_min"),
}
"""Observation of the parent to its measures; of a questionnaire the total alone is on the record, the form is not."""


def count_measures(
    entries: Sequence[Entry], born_at: datetime | None
) -> dict[str, tuple[Measure, ...]]:
    """The highest and the latest numbers that no physician has answered; nothing where there is none.

    Args:
        entries: The current entries about the parent, in order of time.
        born_at: When the youngest infant was born; None where it is not known.
    """
    answers = answers_in(entries)
    measures: dict[str, tuple[Measure, ...]] = {}
    for what, asked in COUNTS.items():
        numbers = _numbers(entries, what, asked.unit, born_at)
        open_ = [one for one in numbers if not answers.cover(*one.entry_ids)]
        if not open_:
            continue
        measures[asked.highest] = (max(open_, key=lambda one: one.value),)
        if asked.last:
            measures[asked.last] = (open_[-1],)
    return measures


def _numbers(
    entries: Sequence[Entry], what: str, unit: str, born_at: datetime | None
) -> Iterator[Measure]:
    for entry in entries:
        fact = entry.fact
        if not isinstance(fact, Observation) or fact.what != what:
            continue
        number = fact.number
        if number is None:
            continue
        working = Working(formula=message("as entered"))
        yield Measure(
            value=number,
            age_h=0.0 if born_at is None else max(elapsed_h(born_at, entry.true_at), 0.0),
            at=entry.true_at,
            figure=Figure(value=number, unit=unit, working=working),
            entry_ids=(entry.id,),
            gaps=(("at", Instant(entry.true_at)),),
        )
