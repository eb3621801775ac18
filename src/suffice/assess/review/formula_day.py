"""Formula of a whole day against what is needed, of an infant of whom formula alone was seen.

Only a day that is written down whole counts: every feed with its volume, and no gap in which one may
be missing. It stands until a later whole day, or a weight taken after it, takes its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.loss import is_fed_formula_only
from suffice.assess.review.result import Reviewed, measure
from suffice.assess.rules.table import Measure
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Feed, FeedCount, Plan, Weight
from suffice.clinical.milk.known_intake import known_intake
from suffice.clinical.milk.requirement import percent_met
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure
from suffice.message import Amount, message

DAY: Final = timedelta(hours=HOURS_PER_DAY)


def review_formula_day(case: Case, parameters: CareParameters, need: Figure) -> Reviewed:
    """The share of the need that the latest whole day of formula met, where one stands.

    Of an infant that was planned to feed at the breast it is a measure of its own: the rest may have been
    taken there, and nobody wrote it down. So it is where a count of the day says so many more feeds that
    bottles of the same size would have been enough.

    Args:
        case: The infant.
        parameters: Of known intake.
        need: Milk needed, mL/d.
    """
    if case.born_at is None or not is_fed_formula_only(case):
        return Reviewed()
    feeds = [entry for entry, _ in case.facts(Feed)]
    end = _latest_whole(case, feeds, parameters.known_intake.gap_h.value)
    if end is None:
        return Reviewed()
    known = known_intake(
        case.entries,
        case.infant.id,
        born_at=case.born_at,
        as_of=end,
        parameters=parameters.known_intake,
        weighing=parameters.test_weight,
    )
    given = known.per_day_ml()
    if given is None:
        return Reviewed()
    share = percent_met(given, need)
    found = Measure(
        value=share.value,
        age_h=case.age_at(end) or 0.0,
        at=end,
        figure=share,
        entry_ids=tuple(one.id for one in feeds if end - DAY < one.true_at <= end),
        gaps=(
            ("given", Amount(given.value, "mL")),
            (
                "feeds",
                message("{count} feed", plural="{count} feeds", count=known.known_feeds),
            ),
        ),
    )
    more = _counted_share(case, end, known.known_feeds)
    least = case.content.constant("feeding.formula_least_percent").value
    is_beside = _is_planned_at_breast(case, end) or share.value < least <= share.value * more
    return measure("formula_beside_percent" if is_beside else "formula_share_percent", found)


def _counted_share(case: Case, end: datetime, written: int) -> float:
    """How many times as many feeds as were written down a count of that day says; 1 where none says more.

    The feeds that nobody wrote down may have been at the breast, or bottles as large as the others.
    """
    counts = [
        fact.count
        for entry, fact in case.facts(FeedCount)
        if end <= entry.true_at < end + DAY and written > 0
    ]
    return max([1.0, *(count / written for count in counts)])


def _is_planned_at_breast(case: Case, at: datetime) -> bool:
    """Whether the plan that held then has feeds at the breast: who wrote down no such feed may have had some."""
    held = [fact for entry, fact in case.facts(Plan) if entry.true_at <= at]
    return bool(held) and held[-1].at_breast in {"every feed", "some feeds"}


def _latest_whole(case: Case, feeds: Sequence[Entry], gap_h: float) -> datetime | None:
    """With which feed the latest whole day ends; None where a weight has taken its place."""
    weighed = max((entry.true_at for entry, _ in case.facts(Weight)), default=None)
    for last in range(len(feeds) - 1, -1, -1):
        end = feeds[last].true_at
        if weighed is not None and weighed >= end + DAY:
            return None
        if case.born_at is None or end - DAY < case.born_at:
            return None
        if _is_whole(feeds[: last + 1], end, gap_h):
            return end
    return None


def _is_whole(feeds: Sequence[Entry], end: datetime, gap_h: float) -> bool:
    """Whether the 24 hours up to a feed hold no feed without a volume and no gap that is too long."""
    later = end
    for entry in reversed(feeds):
        at = max(entry.true_at, end - DAY)
        if elapsed_h(at, later) > gap_h:
            return False
        if entry.true_at <= end - DAY:
            return True
        if isinstance(entry.fact, Feed) and entry.fact.volume_ml is None:
            return False
        later = entry.true_at
    return elapsed_h(end - DAY, later) <= gap_h
