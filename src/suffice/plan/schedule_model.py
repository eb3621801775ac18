"""A day as a linear program: which feeds and sessions begin when, so that the rules of the plan are kept.

The day is a circle of steps. A feed comes in a few shapes (at the breast, with extra milk, with a
session after it, given by a helper), each with what the parent and the helper do in it. Feeds follow
one another along arcs from one start to the next: an arc exists only where the gap is allowed, nobody
does two things at once, and no feed at the breast follows a session too soon. So most rules are kept
by which arcs there are. The rest are rows: how many feeds, at how many there is milk, sessions that
stand too near, sleep in one piece in which the parent does nothing.

None of these rules is ever relaxed. What may give is counted in :meth:`DayModel.given_up`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.entry.clock import Act, What
from suffice.clinical.reading.hours import DAY_MINUTES, Hours
from suffice.clinical.units import MINUTES_PER_HOUR
from suffice.plan.program import OPEN, Program
from suffice.plan.schedule_case import DayCase, FeedMilk
from suffice.plan.schedule_parameters import ScheduleParameters

DUST = 1e-9
"""Keeps a whole number of steps from being rounded up by one more."""

DUST_ML = 0.01
"""A day that holds this much less is no less: sums of divided amounts."""


class Part(NamedTuple):
    """One act of a shape: what, who, from which step of it on, for how many, and its minutes."""

    what: What
    is_parent: bool
    at: int
    steps: int
    minutes: float


class Shape(NamedTuple):
    """A way in which a feed, or a session alone, can be."""

    parts: tuple[Part, ...]

    def until(self, *, is_parent: bool) -> int:
        """After how many steps the parent, or the helper, is free again."""
        return max(
            (one.at + one.steps for one in self.parts if one.is_parent == is_parent), default=0
        )

    @property
    def is_feed(self) -> bool:
        """Whether the infant is fed in it."""
        return any(one.what != "express" for one in self.parts)

    @property
    def is_at_breast(self) -> bool:
        """Whether it is a feed at the breast."""
        return any(one.what == "breast" for one in self.parts)

    @property
    def has_milk(self) -> bool:
        """Whether milk is given in it."""
        return any(one.what in {"milk", "bottle"} for one in self.parts)

    def ml(self, milk: FeedMilk) -> float:
        """What the infant gets in it."""
        each = {"breast": milk.breast_ml, "milk": milk.milk_ml, "bottle": milk.bottle_ml}
        return math.fsum(each.get(one.what, 0.0) for one in self.parts)

    @property
    def session(self) -> Part | None:
        """The session in it."""
        return next((one for one in self.parts if one.what == "express"), None)


class Start(NamedTuple):
    """A shape that may begin at a step, and its variable."""

    shape: Shape
    step: int
    column: int


class DayModel:
    """The program of one day; with sleep of `sleep_steps` somewhere in it, where that is not 0."""

    def __init__(self, case: DayCase, parameters: ScheduleParameters, sleep_steps: int = 0) -> None:
        self.case, self.parameters = case, parameters
        self.step_minutes = parameters.step_minutes.value
        self.day = round(DAY_MINUTES / self.step_minutes)
        self.apart = self.up(parameters.start_minutes.value)
        self.program = Program()
        self._away = self._covered(case.away, is_outer=True)
        self._helped = self._covered(case.helpers, is_outer=False)
        self.starts = tuple(self._starts())
        self._parent: list[list[int]] = [[] for _ in range(self.day)]
        for start in self.starts:
            for part in start.shape.parts:
                if part.is_parent:
                    for step in range(part.at, part.at + part.steps):
                        self._parent[(start.step + step) % self.day].append(start.column)
        self._gaps_too_long: list[int] = []
        self._arcs: dict[int, int] = {}
        self._feeds()
        self._sessions()
        if sleep_steps:
            self._sleep(sleep_steps)

    def up(self, minutes: float) -> int:
        """Minutes as whole steps, rounded up."""
        return math.ceil(minutes / self.step_minutes - DUST)

    def down(self, minutes: float) -> int:
        """Minutes as whole steps, rounded down."""
        return math.floor(minutes / self.step_minutes + DUST)

    # ---- what can begin ----------------------------------------------------------------------

    def _covered(self, hours: Iterable[Hours], *, is_outer: bool) -> frozenset[int]:
        """The steps that hours cover: each that they touch, or only those that lie in them."""
        found: set[int] = set()
        for one in hours:
            first, last = (
                (self.down(one.starts_minutes), self.up(one.ends_minutes))
                if is_outer
                else (self.up(one.starts_minutes), self.down(one.ends_minutes))
            )
            found |= {step % self.day for step in range(first, last)}
        return frozenset(found)

    def _shape(self, *acts: tuple[What, bool, float], is_together: bool = False) -> Shape:
        """Acts one after another, or all from the beginning on."""
        parts: list[Part] = []
        at = 0
        for what, is_parent, minutes in acts:
            # What a helper does after the breast does not keep the parent from the next act.
            parts.append(Part(what, is_parent, at, self.up(minutes), minutes))
            if is_parent and not is_together:
                at += self.up(minutes)
        return Shape(tuple(parts))

    def _shapes(self) -> Iterator[Shape]:
        """Every way in which a feed of this case can be, each without and with a session."""
        case = self.case
        breast: tuple[What, bool, float] = ("breast", True, case.breast_minutes)
        express: tuple[What, bool, float] = ("express", True, case.session_minutes)
        for by_parent in (True, False):
            milk: tuple[What, bool, float] = ("milk", by_parent, case.milk_minutes)
            bottle: tuple[What, bool, float] = ("bottle", by_parent, case.bottle_minutes)
            ways: list[tuple[tuple[What, bool, float], ...]] = []
            if case.at_breast == "not now":
                ways.append((bottle,))
            else:
                if case.milk_feeds_count < case.feeds_count and by_parent:
                    ways.append((breast,))
                if case.milk_feeds_count:
                    ways.append((breast, milk))
                if not by_parent:
                    ways.append((bottle,))
            for way in ways:
                yield self._shape(*way)
                if case.sessions_count or self._expresses_bottles:
                    yield self._shape(*way, express)

    def _starts(self) -> Iterator[Start]:
        """Everything that may begin, where it may: not away, and with a helper where one is needed."""
        case = self.case
        shapes = list(self._shapes()) if case.feeds_count else []
        for step in range(0, self.day, self.apart):
            for shape in shapes:
                if self._is_allowed(shape, step) and self._fits(shape, step, away=self._away):
                    yield Start(shape, step, self.program.variable())
        if not case.sessions_count and not self._expresses_bottles:
            return
        alone = self._shape(("express", True, case.session_minutes))
        is_bottle = not case.feeds_count or case.at_breast == "not now"
        for step in range(0, self.day, self.apart):
            is_away = step in self._away
            if (is_bottle or is_away) and self._fits(
                alone, step, away=frozenset() if case.expresses_away else self._away
            ):
                yield Start(alone, step, self.program.variable())

    def _is_allowed(self, shape: Shape, step: int) -> bool:
        """Whether a feed may be so: a breast that is to be relieved is fed from while the parent is there."""
        is_instead = self.case.at_breast != "not now" and not shape.is_at_breast
        return not (self.case.keeps_breast and is_instead) or step in self._away

    def _fits(self, shape: Shape, step: int, *, away: frozenset[int]) -> bool:
        for part in shape.parts:
            steps = {(step + part.at + one) % self.day for one in range(part.steps)}
            if (part.is_parent and steps & away) or (
                not part.is_parent and not steps <= self._helped
            ):
                return False
        return True

    # ---- rows --------------------------------------------------------------------------------

    def _feeds(self) -> None:
        """Feeds follow one another along arcs; as many as are asked for, with milk at as many."""
        case, program = self.case, self.program
        feeds = [one for one in self.starts if one.shape.is_feed]
        if not case.feeds_count:
            return
        into: dict[int, list[int]] = {}
        into_bottles: dict[int, list[int]] = {}
        over_midnight: list[int] = []
        long_ones: list[int] = []
        for one in feeds:
            arcs: list[int] = []
            for gap, is_to_bottle in self._next(one):
                arc = program.variable(is_whole=False)
                to = (one.step + gap) % self.day
                arcs.append(arc)
                self._arcs[arc] = gap
                into.setdefault(to, []).append(arc)
                if is_to_bottle:
                    into_bottles.setdefault(to, []).append(arc)
                if one.step + gap >= self.day:
                    over_midnight.append(arc)
                if gap > self.down(case.gap_day_minutes):
                    long_ones.append(arc)
            program.row({**dict.fromkeys(arcs, 1.0), one.column: -1.0}, 0, 0)
        for step in range(0, self.day, self.apart):
            here = [one for one in feeds if one.step == step]
            bottles = [one.column for one in here if not one.shape.is_at_breast]
            own = {one.column: -1.0 for one in here}
            program.row({**dict.fromkeys(into.get(step, []), 1.0), **own}, 0, 0)
            restricted = dict.fromkeys(into_bottles.get(step, []), 1.0)
            program.row({**restricted, **dict.fromkeys(bottles, -1.0)}, high=0)
        program.row(dict.fromkeys(over_midnight, 1.0), 1, 1)
        program.row(dict.fromkeys(long_ones, 1.0), high=1)
        self._counts(feeds)

    def _next(self, start: Start) -> Iterator[tuple[int, bool]]:
        """How many steps later the next feed may begin, and whether that one cannot be at the breast."""
        case, parameters, shape = self.case, self.parameters, start.shape
        night = self._covered((night_of(parameters),), is_outer=False)
        longest = case.gap_night_minutes if start.step in night else case.gap_day_minutes
        soonest = max(
            self.up(parameters.feeds_apart_minutes.value),
            shape.until(is_parent=True),
            shape.until(is_parent=False),
        )
        rested = 0
        if shape.session is not None:
            after = self.up(parameters.after_expressing_minutes.value)
            rested = shape.session.at + shape.session.steps + after
        for gap in range(self.apart, self.down(longest) + 1, self.apart):
            if gap >= soonest:
                yield gap, gap < rested

    def _counts(self, feeds: Sequence[Start]) -> None:
        """How many feeds, at how many milk is given, and the milk that has to be expressed for it."""
        case, program = self.case, self.program
        most = case.feeds_count + int(self.parameters.more_feeds_count.value)
        program.row({one.column: 1.0 for one in feeds}, case.feeds_count, most)
        with_milk = {one.column: 1.0 for one in feeds if one.shape.has_milk}
        program.row(with_milk, low=case.milk_feeds_count)
        if case.milk is not None:
            program.row(
                {one.column: one.shape.ml(case.milk) for one in feeds},
                low=case.milk.day_ml - DUST_ML,
            )
        if case.is_own_milk and case.at_breast != "not now":
            balance = {one.column: 1.0 for one in self.starts if one.shape.session}
            for column in self._bottles():
                balance[column] = balance.get(column, 0.0) - 1.0
            # Where no session is asked for, only those are made whose milk a helper gives.
            program.row(balance, low=0, high=0 if self._expresses_bottles else OPEN)

    @property
    def _expresses_bottles(self) -> bool:
        """Whether sessions come in only for the milk that a helper gives."""
        case = self.case
        if case.at_breast == "not now" or not case.is_own_milk or case.sessions_count:
            return False
        return bool(case.helpers) and (not case.keeps_breast or bool(self._away))

    def _bottles(self) -> list[int]:
        """Feeds that replace one at the breast."""
        if self.case.at_breast == "not now":
            return []
        return [
            one.column for one in self.starts if one.shape.is_feed and not one.shape.is_at_breast
        ]

    def _sessions(self) -> None:
        """Sessions: no more than are asked for, apart, and with no long time between two removals."""
        case, program, parameters = self.case, self.program, self.parameters
        begun: list[list[int]] = [[] for _ in range(self.day)]
        removed: list[list[int]] = [[] for _ in range(self.day)]
        for one in self.starts:
            if one.shape.session is not None:
                at = (one.step + one.shape.session.at) % self.day
                begun[at].append(one.column)
                removed[at].append(one.column)
            if one.shape.is_at_breast:
                removed[one.step].append(one.column)
        if case.sessions_count:
            program.row({one: 1.0 for at in begun for one in at}, high=case.sessions_count)
        apart = self.up(parameters.sessions_apart_minutes.value)
        for step in range(self.day):
            program.at_most_one(_within(begun, step, apart))
        self._alone()
        if case.removal_gap_minutes is None:
            return
        for step in range(0, self.day, self.apart):
            too_long = program.variable()
            self._gaps_too_long.append(too_long)
            window = dict.fromkeys(_within(removed, step, self.down(case.removal_gap_minutes)), 1.0)
            program.row({**window, too_long: 1.0}, low=1)

    def _alone(self) -> None:
        """A session that goes with no feed: the parent does nothing else, and rests before the breast."""
        after = self.up(self.parameters.after_expressing_minutes.value)
        alone = [one for one in self.starts if not one.shape.is_feed]
        at_breast: list[list[int]] = [[] for _ in range(self.day)]
        for one in self.starts:
            if one.shape.is_at_breast:
                at_breast[one.step].append(one.column)
        for step in {
            (one.step + more) % self.day
            for one in alone
            for more in range(one.shape.parts[0].steps)
        }:
            self.program.at_most_one(self._parent[step])
        for one in alone:
            first = one.step + one.shape.parts[0].steps
            for step in range(first, first + after):
                self.program.at_most_one((one.column, *at_breast[step % self.day]))

    def _sleep(self, steps: int) -> None:
        """Sleep in one piece within its hours, wherever it is."""
        begins = {step: self.program.variable() for step in self.sleeps(steps)}
        self.program.row(dict.fromkeys(begins.values(), 1.0), 1, 1)
        for step in range(self.day):
            asleep = [
                begins[(step - more) % self.day]
                for more in range(steps)
                if (step - more) % self.day in begins
            ]
            if asleep and self._parent[step]:
                self.program.at_most_one((*asleep, *self._parent[step]))

    def sleeps(self, steps: int) -> list[int]:
        """Where sleep of so many steps can begin, in the order of its hours.

        It ends where a feed can begin or where its hours end: any other sleep can be moved on until it
        does.
        """
        free = self.sleepable()
        found = [
            step
            for step in free
            if all((step + more) % self.day in free for more in range(steps))
            and ((step + steps) % self.apart == 0 or (step + steps) % self.day not in free)
        ]
        first = self.up(self.case.sleep[0].starts_minutes)
        return sorted(found, key=lambda step: (step - first) % self.day)

    def awake(self, step: int, steps: int) -> set[int]:
        """The variables of whatever the parent cannot do while asleep from a step on."""
        return {
            column for more in range(steps) for column in self._parent[(step + more) % self.day]
        }

    def sleepable(self) -> frozenset[int]:
        """The steps in which the parent may sleep."""
        return self._covered(self.case.sleep, is_outer=False) - self._away

    # ---- what it costs, and what comes out ----------------------------------------------------

    def given_up(self) -> dict[int, float]:
        """What counts against a day: bottles for the breast, sessions left out, feeds too many, long gaps."""
        parameters = self.parameters
        costs = dict.fromkeys(self._gaps_too_long, parameters.gap_weight_ratio.value)
        for one in self.starts:
            if one.shape.is_feed:
                costs[one.column] = parameters.feed_weight_ratio.value
            if one.shape.session is not None and self.case.sessions_count:
                costs[one.column] = (
                    costs.get(one.column, 0.0) - parameters.session_weight_ratio.value
                )
        for column in self._bottles():
            costs[column] = costs.get(column, 0.0) + parameters.bottle_weight_ratio.value
        return costs

    def minutes(self) -> dict[int, float]:
        """The minutes of a day: the parent's, more in the small hours, less of a helper's; feeds evenly apart."""
        parameters = self.parameters
        until = parameters.small_hours_until_h.value * MINUTES_PER_HOUR
        even = self.day / max(self.case.feeds_count, 1)
        costs = {
            arc: parameters.uneven_minutes.value * ((gap - even) / self.apart) ** 2
            for arc, gap in self._arcs.items()
        }
        for one in self.starts:
            own = [part for part in one.shape.parts if part.is_parent]
            others = math.fsum(part.minutes for part in one.shape.parts if not part.is_parent)
            is_small = bool(own) and one.step * self.step_minutes < until
            costs[one.column] = (
                math.fsum(part.minutes for part in own)
                + (parameters.small_hours_minutes.value if is_small else 0.0)
                + others * parameters.helper_minutes_ratio.value
            )
        return costs

    def hold(self, costs: dict[int, float], values: NDArray[np.float64]) -> None:
        """From now on no day that costs more than this one."""
        reached = math.fsum(cost * values[column] for column, cost in costs.items())
        self.program.row(costs, high=reached + DUST)

    def acts(self, values: NDArray[np.float64], step: int, steps: int) -> tuple[Act, ...]:
        """The acts of an answer from midnight on, with sleep of so many steps from one on."""
        found = [
            Act(
                starts_minutes=self._minutes(one.step + part.at),
                minutes=math.ceil(part.minutes),
                what=part.what,
                who="parent" if part.is_parent else "helper",
            )
            for one in self.starts
            if values[one.column]
            for part in one.shape.parts
        ]
        if steps:
            found.append(
                Act(
                    starts_minutes=self._minutes(step),
                    minutes=round(steps * self.step_minutes),
                    what="sleep",
                )
            )
        return tuple(sorted(found))

    def _minutes(self, step: int) -> int:
        return round(step % self.day * self.step_minutes)


def night_of(parameters: ScheduleParameters) -> Hours:
    """The hours of the night."""
    starts = round(parameters.night_from_h.value * MINUTES_PER_HOUR) % DAY_MINUTES
    return Hours(starts, starts + round(parameters.night_hours_h.value * MINUTES_PER_HOUR))


def _within(columns: Sequence[Sequence[int]], step: int, steps: int) -> list[int]:
    """What begins within so many steps from one on, round the clock."""
    return [one for more in range(steps) for one in columns[(step + more) % len(columns)]]
