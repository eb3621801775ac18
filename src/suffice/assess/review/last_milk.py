"""How long an infant had taken no milk in any way, as somebody said it at a contact, for the table of flags.

What was said stands until a feed after it, a later word that milk was taken since, two later weights that show
it, or the answer of a physician: the clock neither ends it nor makes the hours more than were said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.gain_course import GainCourse
from suffice.assess.review.result import Reviewed, measure
from suffice.assess.review.sign import signs_seen
from suffice.assess.review.weight import usable
from suffice.assess.rules.table import Measure, Sign, hours_of, limit_of
from suffice.assess.rules.truth import Truth, truth_of
from suffice.clinical.entry import Entry, Feed, FeedCount, Observation, TestWeight
from suffice.clinical.entry import Sign as SignFact
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Working
from suffice.message import Instant, message

LAST_MILK: Final = "last_milk_h"
"""Observation of the infant: hours since it last took milk."""
WAKES: Final = "wakes_for_feeds"
"""Observation of the infant, and its answer that somebody wakes it for each feed."""
WOKEN: Final = "woken"
NOT_WAKING: Final = "does_not_wake_for_feeds"
SLEEPY: Final = frozenset({NOT_WAKING, "weak_sucking"})
"""Signs of an infant that is sleepy or sucks weakly."""


class _Reported(NamedTuple):
    """What somebody said of the hours without milk."""

    entry: Entry
    hours: float
    age_h: float

    @property
    def fed_at(self) -> datetime:
        """When milk was last taken."""
        return self.entry.true_at - timedelta(hours=self.hours)


def review_last_milk(case: Case, parameters: CareParameters) -> Iterator[Reviewed]:
    """The measure `hours_without_milk_h`, also by the names of an infant that is sleepy or woken besides.

    Nothing where nobody said it, or where milk was taken since. Of two that stand the later speaks
    for both where it says as much and the same limits hold at both ages.

    Args:
        case: The infant.
        parameters: The noise of a weight.
    """
    answers = [
        one for entry, fact in case.facts(Observation) if (one := _reported(case, entry, fact))
    ]
    open_ = [
        one
        for one in answers
        if not (_is_over(case, one, answers) or _has_gained_after(case, one.age_h, parameters))
    ]
    kept = [one for place, one in enumerate(open_) if not _is_in(case, one, open_[place + 1 :])]
    if kept:
        yield from (measure(name, _measure(one)) for name in _names(case) for one in kept)


def review_waking(case: Case) -> Iterator[Reviewed]:
    """Whether somebody wakes the infant for every feed, as last answered: no sign by itself, since it may be as it was advised.

    A later entry that it does not fail to wake ends it, as another answer does.
    """
    said = [(entry, fact) for entry, fact in case.facts(Observation) if fact.what == WAKES]
    if not said:
        return
    entry, fact = said[-1]
    wakes = any(
        one.sign == NOT_WAKING and not one.present and later.true_at > entry.true_at
        for later, one in case.facts(SignFact)
    )
    found = Sign(
        present=truth_of(fact.answer == WOKEN and not wakes),
        age_h=case.age_at(entry.true_at) or 0.0,
        lasts=True,
        at=entry.true_at,
        entry_ids=(entry.id,),
        gaps=(("at", Instant(entry.true_at)),),
    )
    yield Reviewed(signs={"woken_for_every_feed": (found,)})


def _reported(case: Case, entry: Entry, fact: Observation) -> _Reported | None:
    """The hours, no more than the infant is old; None where it is another observation or no number."""
    hours = fact.number if fact.what == LAST_MILK else None
    if hours is None or hours < 0:
        return None
    age_h = case.age_at(entry.true_at)
    return _Reported(entry, hours if age_h is None else min(hours, max(age_h, 0.0)), age_h or 0.0)


def _is_over(case: Case, one: _Reported, answers: Sequence[_Reported]) -> bool:
    """Whether milk was taken since, or a physician has answered."""
    at = one.entry.true_at
    return (
        case.answers.cover(one.entry.id)
        or any(later.fed_at >= at for later in answers if later.entry.true_at > at)
        or any(_is_feed_after(entry, at) for entry in case.entries)
    )


def _has_gained_after(case: Case, age_h: float, parameters: CareParameters) -> bool:
    """Whether two weights after an age, a day or more apart, show a gain for sure: it took milk since."""
    weights = tuple(one for one in usable(case) if one.age_h > max(age_h, 0.0))
    if not weights:
        return False
    first, last = min(weights, key=lambda one: one.weight_g), weights[-1]
    if last.age_h - first.age_h < HOURS_PER_DAY:
        return False
    course = GainCourse(case=case, series=weights, parameters=parameters, before_term_d=0.0)
    low = course.gain(first, last).g_per_day.low
    return low is not None and low > 0


def _is_feed_after(entry: Entry, at: datetime) -> bool:
    """Whether an entry says that milk was taken after an instant; a count, where all of its day is later."""
    fact, then = entry.fact, entry.true_at
    if isinstance(fact, Feed):
        return then > at and fact.volume_ml != 0
    if isinstance(fact, TestWeight):
        return then > at and fact.after_g > fact.before_g
    began = then - timedelta(hours=HOURS_PER_DAY)
    return isinstance(fact, FeedCount) and fact.count > 0 and began >= at


def _is_in(case: Case, one: _Reported, later: Sequence[_Reported]) -> bool:
    """Whether a later word says as much under the same limits."""
    return any(two.hours >= one.hours and _limits(case, two) == _limits(case, one) for two in later)


def _limits(case: Case, one: _Reported) -> tuple[float | bool | None, ...]:
    """What the rows compare the hours with at that age."""
    content = case.content
    found = (
        limit_of(f"feeding.{key}", content, one.age_h) for key in ("no_milk_look_h", "no_milk_h")
    )
    until_h = hours_of(content.constant("feeding.no_milk_preterm_until_d"))
    return (*(None if limit is None else limit.value for limit in found), one.age_h < until_h)


def _measure(one: _Reported) -> Measure:
    return Measure(
        value=one.hours,
        age_h=one.age_h,
        at=one.entry.true_at,
        figure=Figure(
            value=one.hours,
            unit="h",
            working=Working(formula=message("as said, no longer than the infant is old")),
        ),
        entry_ids=(one.entry.id,),
    )


def _names(case: Case) -> Iterator[str]:
    """The names of the measure: its own, and those of an infant that is sleepy or woken besides."""
    yield "hours_without_milk_h"
    seen = signs_seen(case.entries, case.born_at, case.content)
    present = {key for key, one in seen.items() if one.present is Truth.TRUE}
    if NOT_WAKING in present:
        yield "not_waking_hours_without_milk_h"
    if present & SLEEPY:
        yield "sleepy_hours_without_milk_h"
    waking = [fact for _, fact in case.facts(Observation) if fact.what == WAKES]
    if waking and waking[-1].answer == WOKEN:
        yield "woken_hours_without_milk_h"
