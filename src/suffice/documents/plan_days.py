"""A plan of the first days as its page has it on a day: the amounts of that day, and from when on the next ones."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import NamedTuple

from suffice.assess.results import InfantAssessment
from suffice.clinical.entry import Entry, Plan
from suffice.documents.frame import Source
from suffice.plan.by_age import plan_at
from suffice.plan.parameters import plan_parameters


class DayAmount(NamedTuple):
    """The milk of one feed from an instant on, mL; `most_ml`: where the infant asks for more."""

    at: datetime
    ml: float
    most_ml: float


def plan_of_day(
    source: Source, entry: Entry, infant: InfantAssessment
) -> tuple[Plan, tuple[DayAmount, ...]]:
    """The plan with the amounts of today, and those that begin later.

    Args:
        source: What the paper is made from.
        entry: The plan's entry.
        infant: What was computed of the infant.

    Raises:
        TypeError: when the entry is no plan.
    """
    born_at, parameters = infant.born_at, plan_parameters(source.content)
    grown, later = plan_at(entry, source.as_of, born_at, infant.gestation_days, parameters)
    if born_at is None:
        return grown, ()
    return grown, tuple(
        DayAmount(born_at + timedelta(hours=one.from_h), one.ml, one.most_ml) for one in later
    )
