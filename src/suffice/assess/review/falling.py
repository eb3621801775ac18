"""A fall after a rise, with the error of weighing in mind however often an infant is weighed.

The highest of many weights is high by chance, so what was there before is the mean of the weights of a
day; of a single one it is that weight. The lowest of many is low by chance too: a weight that was
taken again within a day counts as the mean of both.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from itertools import accumulate
from typing import NamedTuple

from msgspec.structs import replace

from suffice.assess.review.course import Course, Mark, since_then
from suffice.assess.review.gain_measure import mean_words
from suffice.assess.review.result import Reviewed, measure
from suffice.assess.rules.table import Measure
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight.weighing import Weighing
from suffice.clinical.working import Figure, Quantity, Working
from suffice.language.times import between_h
from suffice.message import Age, Param, message


class Level(NamedTuple):
    """What an infant weighed over a day: the mean of the weights of the day about one of them."""

    last: Weighing
    weight_g: float
    weights: int

    @property
    def age_h(self) -> float:
        """Age at its last weight."""
        return self.last.age_h

    @property
    def in_words(self) -> Param:
        """In words."""
        return mean_words(self.weight_g, self.weights)


class Fall(NamedTuple):
    """A weight below what was there before.

    Attributes:
        mark: The weight.
        level: What was there before.
        again: The weights of the day after it, which weigh it again.
    """

    mark: Mark
    level: Level
    again: tuple[Mark, ...]

    @property
    def now(self) -> Level:
        """The weight, with those that weigh it again."""
        weights = [one.weight.weight_g for one in (self.mark, *self.again)]
        return Level(
            (self.again or (self.mark,))[-1].weight, sum(weights) / len(weights), len(weights)
        )

    @property
    def fall_g(self) -> float:
        """How far it fell."""
        return self.level.weight_g - self.now.weight_g


def review_fall(course: Course) -> Iterator[Reviewed]:
    """The falls after a rise that no physician has answered and no later weight has made good.

    Each measure is the one furthest beyond what weighing errs. A fall is seen again where the weight was
    taken again within a day; a weight that nobody took again in that time counts as seen again.
    """
    again_h = course.value("weight_change.fall_again_h")
    levels = _levels([mark.weight for mark in course.marks])
    # Half a day apart at least, so that no weight is part of the level it is held against.
    gap_h = max(course.value("weight_change.course_gap_h"), HOURS_PER_DAY / 2)
    short = _by_age(course, _falls(course, levels, gap_h, again_h))
    long = _by_age(
        course, _falls(course, levels, course.value("weight_change.fall_long_h"), again_h)
    )
    age_h = course.marks[-1].age_h if course.case.age_h is None else course.case.age_h
    for name, falls in (
        ("early_fall_after_rise_g", short.early),
        ("seen_early_fall_after_rise_g", short.seen_early),
        ("fall_after_rise_g", short.young),
        (
            "fall_seen_again_g",
            [one for one in short.young if one.again or one.mark.age_h + again_h < age_h],
        ),
        ("long_fall_after_rise_g", long.young),
        ("older_fall_after_rise_g", short.older),
        ("older_long_fall_after_rise_g", long.older),
    ):
        if falls:
            yield measure(name, _measure(course, max(falls, key=lambda one: _beyond(course, one))))
    if short.older:
        yield measure(
            "older_fall_after_rise_percent", _share(course, max(short.older, key=_percent))
        )


class ByAge(NamedTuple):
    """Falls by the age at which they were weighed, so that none hides one of which more is asked."""

    early: list[Fall]
    seen_early: list[Fall]
    young: list[Fall]
    older: list[Fall]


def _by_age(course: Course, falls: Iterable[Fall]) -> ByAge:
    edges_h = (
        course.value("weight_change.fall_seen_from_h"),
        course.value("weight_change.fall_from_d") * HOURS_PER_DAY,
        course.value("weight_change.fall_until_d") * HOURS_PER_DAY,
    )
    found = ByAge([], [], [], [])
    for one in falls:
        found[bisect_right(edges_h, one.mark.age_h)].append(one)
    return found


def _levels(weights: list[Weighing]) -> tuple[Level, ...]:
    """For each weight the mean of those of half a day before and after it, itself among them."""
    ages_h = [one.age_h for one in weights]
    sums_g = [0.0, *accumulate(one.weight_g for one in weights)]
    half_h = HOURS_PER_DAY / 2
    found = []
    for one in weights:
        start, end = (bisect_left(ages_h, one.age_h + part_h) for part_h in (-half_h, half_h))
        mean_g = (sums_g[end] - sums_g[start]) / (end - start)
        found.append(Level(one, one.weight_g if end - start == 1 else mean_g, end - start))
    return tuple(found)


def _falls(
    course: Course, levels: tuple[Level, ...], least_h: float, again_h: float
) -> Iterator[Fall]:
    """Every fall from the highest level so long before a weight, from the first that was to rise on."""
    from_h = course.value("weight_change.falling_look_h")
    for place, mark in enumerate(course.marks):
        if mark.lowest is None or mark.age_h < from_h:
            continue
        level = _highest(levels[:place], mark, least_h)
        if level is None or course.is_answered(mark, level.last):
            continue
        has_risen = level.weight_g > mark.lowest.weight_g or _is_back(course, level)
        later = course.marks[place + 1 :]
        is_made_good = any(one.weight.weight_g >= level.weight_g for one in later)
        again = tuple(one for one in later if mark.age_h < one.age_h <= mark.age_h + again_h)
        fall = Fall(mark, level, again)
        if has_risen and not is_made_good and fall.fall_g > 0:
            yield fall


def _highest(levels: Iterable[Level], mark: Mark, least_h: float) -> Level | None:
    """The highest level since the lowest weight, at least so long before a weight."""
    start_h = mark.lowest.age_h if mark.lowest else 0.0
    before = [one for one in levels if start_h <= one.age_h <= mark.age_h - least_h]
    return max(before, key=lambda one: one.weight_g, default=None)


def _is_back(course: Course, level: Level) -> bool:
    """Whether it lies above birth weight at an age at which that is no fluid: then it has risen.

    So does any weight of half a year, also where nobody knows the birth weight.
    """
    from_h = course.value("follow_up.regained_from_age_h")
    birth = course.birth
    if birth is None:
        return level.age_h >= course.value("weight_change.fall_until_d") * HOURS_PER_DAY
    return level.age_h >= from_h and level.weight_g > birth.weight_g


def _beyond(course: Course, fall: Fall) -> tuple[float, float]:
    """How far it is beyond what weighing errs; of equal ones the later."""
    return fall.fall_g - course.noise_g(fall.level.last, fall.mark.weight), fall.mark.age_h


def _percent(fall: Fall) -> float:
    """How far it fell, of what it weighed before."""
    return fall.fall_g / fall.level.weight_g * 100


def _share(course: Course, fall: Fall) -> Measure:
    """The fall as a share of the weight before it."""
    found, percent = _measure(course, fall), _percent(fall)
    figure = Figure(value=percent, unit="%", working=found.figure.working)
    return replace(found, value=percent, figure=figure)


def _measure(course: Course, fall: Fall) -> Measure:
    mark, level, now = fall.mark, fall.level, fall.now
    working = Working(
        formula=message("mean of the weights of the highest day since the lowest - weight"),
        inputs=(
            Quantity(name=message("weight before"), value=level.weight_g, unit="g"),
            Quantity(name=message("weight"), value=now.weight_g, unit="g"),
        ),
    )
    return Measure(
        value=fall.fall_g,
        age_h=mark.age_h,
        at=course.case.at_age(mark.age_h),
        figure=Figure(value=fall.fall_g, unit="g", working=working),
        entry_ids=(level.last.entry_id, mark.weight.entry_id),
        gaps=(
            ("first", level.in_words),
            ("last", now.in_words),
            ("between", Age(between_h(mark.age_h - level.age_h))),
        ),
        says=tuple(since_then(course, mark, needs_answer=True)),
    )
