"""Can it be done? A plan fitted into a day: the clock of it, and in words what gave way.

Solved in tiers, each kept by the next: the rules of the plan, which never give way; the longest sleep
up to the one that is wished for; removals of milk (sessions, feeds at the breast, long gaps); minutes
of the parent. Where no day keeps the rules, it is said which of them fight, and no clock is drawn.

The same case gives the same day unless a tier runs out of its time; then the best so far is taken, and
it is said so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Final, NamedTuple

import msgspec
import numpy as np
from numpy.typing import NDArray

from suffice.clinical.entry.clock import Act
from suffice.message import Words
from suffice.plan.schedule_case import DayCase
from suffice.plan.schedule_model import DayModel
from suffice.plan.schedule_parameters import ScheduleParameters
from suffice.plan.schedule_words import conflicts_of, gave_of

MOST_S: Final = 5.0
"""Seconds after which the best so far is taken."""
MINUTES_S: Final = 1.0
"""Of them, what is left to the tier of minutes."""
LEAST_S: Final = 0.05
"""Each question to the solver is given so many seconds at least."""
MINUTES_SLACK: Final = 0.02
"""A day that is within 2 % of the fewest minutes is taken."""
DUST: Final = 1e-6
"""What the solver takes for nothing."""
Elapsed = Callable[[], float]
"""Says how many seconds have passed; without a clock none ever do."""


class Schedule(msgspec.Struct, frozen=True, kw_only=True):
    """A plan on the clock.

    Attributes:
        case: What was asked.
        acts: Every act of the day, sleep included; empty where no day keeps the rules.
        gave: What gave way, in words; empty where everything fits.
        conflicts: Where there is no day: which rules fight, in words.
        is_proven: Whether no better day exists; else it is the best that was found in time.
    """

    case: DayCase
    acts: tuple[Act, ...] = ()
    gave: tuple[Words, ...] = ()
    conflicts: tuple[Words, ...] = ()
    is_proven: bool = True

    @property
    def is_possible(self) -> bool:
        """Whether there is a day that keeps the rules."""
        return not self.conflicts

    @property
    def sleep_minutes(self) -> int:
        """Unbroken sleep."""
        return sum(one.minutes for one in self.acts if one.what == "sleep")

    @property
    def parent_minutes(self) -> float:
        """What the parent does for it in a day, with cleaning."""
        acts = (one for one in self.acts if one.who == "parent" and one.what != "sleep")
        return math.fsum(one.minutes for one in acts) + self.case.cleaning_minutes

    @property
    def helper_minutes(self) -> float:
        """What a helper does for it in a day."""
        return math.fsum(one.minutes for one in self.acts if one.who == "helper")


class Day(NamedTuple):
    """A day that keeps the rules: when sleep begins and for how many steps, and what each variable is."""

    model: DayModel
    step: int
    steps: int
    values: NDArray[np.float64]
    is_proven: bool


def no_time() -> float:
    """No clock: as long as it takes, and the same day each time."""
    return 0.0


def scheduled(
    case: DayCase, parameters: ScheduleParameters, elapsed: Elapsed = no_time
) -> Schedule:
    """The plan on the clock.

    Args:
        case: What is to be fitted into a day.
        parameters: The values in force.
        elapsed: Seconds since the question was asked; five are taken at most.
    """
    steps, is_sure = _longest(case, parameters, elapsed)
    day = None if steps is None else _best(case, parameters, steps, elapsed)
    if day is None:
        return Schedule(
            case=case, conflicts=tuple(conflicts_of(case, parameters)), is_proven=is_sure
        )
    model, asleep = day.model, day.model.awake(day.step, day.steps)
    model.hold(model.given_up(), day.values)
    found = model.program.solve(
        model.minutes(), _left(elapsed), slack=MINUTES_SLACK, without=asleep
    )
    values = day.values if found.values is None else found.values
    acts = model.acts(values, day.step, day.steps)
    is_proven = is_sure and day.is_proven and found.is_proven
    return Schedule(
        case=case,
        acts=acts,
        gave=tuple(gave_of(case, acts, is_proven=is_proven)),
        is_proven=is_proven,
    )


def longest_sleep_minutes(
    case: DayCase, parameters: ScheduleParameters, elapsed: Elapsed = no_time
) -> int | None:
    """The longest sleep up to the one that is wished for; None where no day keeps the rules."""
    steps, _is_sure = _longest(case, parameters, elapsed)
    return None if steps is None else round(steps * parameters.step_minutes.value)


def _left(elapsed: Elapsed, kept_back: float = 0.0) -> float:
    """The seconds that are left."""
    return max(MOST_S - kept_back - elapsed(), LEAST_S)


def _longest(
    case: DayCase, parameters: ScheduleParameters, elapsed: Elapsed
) -> tuple[int | None, bool]:
    """The longest sleep in steps, and whether that is sure; None where no day keeps the rules."""
    is_sure = True

    def can(steps: int) -> bool:
        nonlocal is_sure
        tried = DayModel(case, parameters, steps).program.solve({}, _left(elapsed, MINUTES_S))
        is_sure = is_sure and tried.is_proven
        return tried.values is not None

    most = _most_steps(case, parameters)
    if can(most):
        return most, is_sure
    if not most or not can(0):
        return None, is_sure
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if can(middle) else (low, middle)
    return low, is_sure


def _best(
    case: DayCase, parameters: ScheduleParameters, steps: int, elapsed: Elapsed
) -> Day | None:
    """The day with sleep of that length in which least is given up.

    Where sleep begins is tried place by place: with its place fixed the rest is found in a few
    hundredths of a second, with it open it is not. A place is left out where even the bound of its cost
    is no better than the best day so far, and no bound is asked for once a day costs as little as any can.
    """
    model = DayModel(case, parameters)
    costs = model.given_up()
    # Wherever sleep is, nothing costs less than a day without it.
    anywhere = model.program.least(costs, _left(elapsed))
    if anywhere is None:
        return None
    floor = _whole(anywhere, costs)

    def bound_of(step: int) -> float | None:
        if not steps:
            return floor
        bound = model.program.least(costs, _left(elapsed), model.awake(step, steps))
        return None if bound is None else _whole(bound, costs)

    best: Day | None = None
    least, is_proven = math.inf, True
    for bound, step in _cheapest_first(model.sleeps(steps) if steps else [0], bound_of, floor):
        if bound > least - DUST:
            break
        if best is not None and _left(elapsed, MINUTES_S) <= LEAST_S:
            is_proven = False
            break
        found = model.program.solve(
            costs, _left(elapsed, MINUTES_S), without=model.awake(step, steps)
        )
        is_proven = is_proven and found.is_proven
        if found.values is None:
            continue
        cost = math.fsum(each * found.values[column] for column, each in costs.items())
        if cost < least - DUST:
            best, least = Day(model, step, steps, found.values, is_proven=True), cost
        if least < floor + DUST:
            break
    return None if best is None else best._replace(is_proven=is_proven)


def _cheapest_first(
    places: Iterable[int], bound_of: Callable[[int], float | None], floor: float
) -> Iterator[tuple[float, int]]:
    """Each place with its bound, the lowest first, of equals in the order of the places.

    No bound is below the floor: where one is as low, its place comes before the others are asked for theirs.
    """
    later: list[tuple[float, int]] = []
    for step in places:
        bound = bound_of(step)
        if bound is None:
            continue
        if bound == floor:
            yield bound, step
        else:
            later.append((bound, step))
    yield from sorted(later, key=lambda one: one[0])


def _whole(bound: float, costs: Mapping[int, float]) -> float:
    """A bound of a cost that is a whole number where all of its parts are: rounded up to the next."""
    if math.isinf(bound) or not all(float(one).is_integer() for one in costs.values()):
        return bound
    return float(math.ceil(bound - DUST))


def _most_steps(case: DayCase, parameters: ScheduleParameters) -> int:
    """No sleep is longer: the wish, the longest stretch of its hours, and, alone, a gap less a feed."""
    model = DayModel(case, parameters)
    most = min(model.down(case.sleep_minutes), _longest_run(model.sleepable(), model.day))
    feeds = [one.shape.until(is_parent=True) for one in model.starts if one.shape.is_feed]
    if feeds and min(feeds) > 0:
        most = min(most, model.down(case.gap_night_minutes) - min(feeds))
    return max(most, 0)


def _longest_run(steps: frozenset[int], day: int) -> int:
    """The most steps one after another, round the clock."""
    if len(steps) == day:
        return day
    longest = run = 0
    for step in range(2 * day):
        run = run + 1 if step % day in steps else 0
        longest = max(longest, run)
    return longest
