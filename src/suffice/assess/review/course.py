"""The course of an infant's weight: each weight after birth beside those before it.

Each is judged at the age at which it was taken. What was found stays until a later weight or an
answer clears it, and birth weight reached again ends every loss.

A clothed weight counts where it is lower than the one before it all the same: the true weight can
only be lower still. It never shows a rise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property, partial
from typing import Final, NamedTuple

from scipy.special import ndtri

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, measure
from suffice.assess.review.weight import loss_percent
from suffice.assess.rules.table import Measure, limit_of
from suffice.clinical.reading.writing import PERCENT_DECIMALS
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight.weighing import Weighing, single_weight_se_g
from suffice.clinical.working import Figure
from suffice.message import Age, Amount, Param, Words, message

GAINING: Final = "regain.gaining_g_per_day"


class Mark(NamedTuple):
    """One weight after birth, and what those before it say of it.

    Attributes:
        weight: The weight.
        loss: Loss from birth weight in percent; None where the birth weight is not known.
        lowest: The lowest of the weights that lie far enough before it to show which way it goes.
        highest: The highest of those since the lowest.
        is_answered: Whether a physician who knew of it, no lower than it is, has answered.
    """

    weight: Weighing
    loss: Figure | None
    lowest: Weighing | None
    highest: Weighing | None
    is_answered: bool

    @property
    def age_h(self) -> float:
        """Age at the weight."""
        return self.weight.age_h

    @property
    def lost(self) -> float:
        """The loss as it is shown, and compared; 0 where it is not known."""
        return 0.0 if self.loss is None else round(self.loss.value, PERCENT_DECIMALS)

    @property
    def rise_g(self) -> float | None:
        """How far it lies above the lowest; None where there is none to tell by."""
        return None if self.lowest is None else self.weight.weight_g - self.lowest.weight_g

    @property
    def gain_g_per_day(self) -> float | None:
        """Gain since the lowest; None where there is none to tell by."""
        if self.lowest is None or self.rise_g is None:
            return None
        return self.rise_g * HOURS_PER_DAY / (self.age_h - self.lowest.age_h)

    @property
    def is_below_birth(self) -> bool:
        """Whether it lies below the birth weight, or that is not known."""
        return self.loss is None or self.lost > 0


@dataclass(eq=False)
class Course:
    """All that the judging of one infant's weights needs.

    Attributes:
        case: The infant.
        parameters: Noise of weighing.
        marks: The weights after birth, by age.
        birth: The birth weight; None where it is not known.
    """

    case: Case
    parameters: CareParameters
    marks: tuple[Mark, ...]
    birth: Weighing | None

    def __post_init__(self) -> None:
        """What is asked again and again is kept."""
        self._limits: dict[tuple[str, float], float | None] = {}
        self._risen: dict[int, bool] = {}

    @cached_property
    def below(self) -> tuple[Mark, ...]:
        """The weights since birth weight was last reached, or as good as reached.

        Those before are past: what was lost has been made good.
        """
        back = [place for place, mark in enumerate(self.marks) if self._is_back(mark)]
        return self.marks[back[-1] + 1 :] if back else self.marks

    def _is_back(self, mark: Mark) -> bool:
        """Whether it is back at birth weight, or has risen to within what weighing errs."""
        if not mark.is_below_birth:
            return True
        return self.is_near_birth(mark) and self.is_risen(mark)

    def is_near_birth(self, mark: Mark) -> bool:
        """Whether it is no further below birth weight than weighing errs, and not falling."""
        if self.birth is None:
            return False
        to_go_g = self.birth.weight_g - mark.weight.weight_g
        falls = mark.rise_g is not None and mark.rise_g <= 0
        return to_go_g <= self.noise_g(self.birth, mark.weight) and not falls

    def after(self, mark: Mark) -> Iterator[Mark]:
        """The weights after one."""
        return (one for one in self.marks if one.age_h > mark.age_h)

    def limit(self, key: str, age_h: float) -> float | None:
        """A limit at an age; None where it says nothing about that age."""
        if (key, age_h) not in self._limits:
            found = limit_of(key, self.case.content, age_h)
            self._limits[key, age_h] = None if found is None else found.value
        return self._limits[key, age_h]

    def value(self, key: str) -> float:
        """A constant of the content."""
        return self.case.content.constant(key).value

    def noise_g(self, first: Weighing, last: Weighing) -> float:
        """From how many grams on two weights differ by more than weighing."""
        usual = self.limit("weight_change.beyond_noise_g", last.age_h) or 0.0
        coarse = max(
            (step for one in (first, last) if (step := self._steps.get(one.scale or ""))),
            default=None,
        )
        if coarse is None:
            return usual
        level = self.parameters.gain.confidence_fraction.value
        one = single_weight_se_g(self.parameters.noise, resolution_g=coarse).value
        return max(usual, float(ndtri((1 + level) / 2)) * math.sqrt(2) * one)

    @cached_property
    def _steps(self) -> dict[str, float | None]:
        """Name of a scale of the clinic to its step in g."""
        return {scale.name: scale.resolution_g for scale in self.case.policy.scales}

    def is_risen(self, mark: Mark) -> bool:
        """Whether a weight lies above the lowest by more than noise."""
        if mark.lowest is None or mark.rise_g is None:
            return False
        if id(mark) not in self._risen:
            self._risen[id(mark)] = mark.rise_g > self.noise_g(mark.lowest, mark.weight)
        return self._risen[id(mark)]

    def is_gaining(self, mark: Mark) -> bool:
        """Whether it has risen beyond noise, at the rate with which it can wait, and has not turned since."""
        gain = mark.gain_g_per_day
        is_brisk = gain is not None and gain >= self.value(GAINING)
        return is_brisk and self.is_risen(mark) and not self._has_turned(mark)

    def _has_turned(self, mark: Mark) -> bool:
        """Whether it lies no higher than a weight of days before it: what was gained then hides a fall."""
        until_h = mark.age_h - self.value("weight_change.fall_long_h")
        start_h = mark.lowest.age_h if mark.lowest else mark.age_h
        return any(
            start_h <= one.age_h <= until_h and one.weight.weight_g >= mark.weight.weight_g
            for one in self.marks
        )

    def rises_later(self, mark: Mark) -> bool:
        """Whether a later weight lies above this one, or above the lowest, by more than noise."""
        return any(self.is_risen(one) or self.is_above(mark, one) for one in self.after(mark))

    def is_above(self, mark: Mark, later: Mark) -> bool:
        """Whether a later weight lies above an earlier one by more than noise."""
        noise_g = self.noise_g(mark.weight, later.weight)
        return later.weight.weight_g > mark.weight.weight_g + noise_g

    def is_answered(self, mark: Mark, *before: Weighing | None) -> bool:
        """Whether a physician has answered a weight and those before it that it is compared with."""
        return mark.is_answered and self.case.answers.cover_weights(
            mark.weight, self.birth, *before
        )

    def is_higher_later(self, mark: Mark) -> bool:
        """Whether a later weight is higher at all."""
        return any(one.weight.weight_g > mark.weight.weight_g for one in self.after(mark))


def course_of(case: Case, parameters: CareParameters) -> Course:
    """The weights after birth, each with what those before it say of it."""
    birth = next((one for one in case.weighings if one.is_birth), None)
    gap_h = case.content.constant("weight_change.course_gap_h").value
    marks: list[Mark] = []
    for one in _counting(case.weighings):
        before = [mark.weight for mark in marks if mark.age_h <= one.age_h - gap_h]
        lowest = min(before, key=lambda weight: weight.weight_g, default=None)
        since = [weight for weight in before if lowest and weight.age_h >= lowest.age_h]
        marks.append(
            Mark(
                weight=one,
                loss=None if birth is None else loss_percent(one, birth),
                lowest=lowest,
                highest=max(since, key=lambda weight: weight.weight_g, default=None),
                is_answered=case.answers.cover_weights(one, birth),
            )
        )
    return Course(case, parameters, tuple(marks), birth)


def _counting(weighings: Iterable[Weighing]) -> Iterator[Weighing]:
    """The weights after birth; a clothed one only where it is lower than the one before it."""
    last: Weighing | None = None
    for one in weighings:
        if one.is_birth:
            continue
        if one.clothing == "clothed" and last is not None and one.weight_g >= last.weight_g:
            continue
        last = one
        yield one


def worst_of(course: Course, marks: Iterable[Mark], *keys: str) -> Mark | None:
    """The weight that lies furthest beyond a line, the first line that one lies beyond deciding."""
    found = list(marks)
    worst: Mark | None = None
    for key in keys:
        beyond = [
            (mark.lost - limit, mark.age_h, mark)
            for mark in found
            if (limit := course.limit(key, mark.age_h)) is not None
        ]
        if beyond:
            excess, _, worst = max(beyond, key=lambda one: one[:2])
            if excess >= 0:
                break
    return worst


def loss_measure(
    course: Course, name: str, mark: Mark | None, open_: Sequence[Mark] = (), /, **gaps: Param
) -> Iterator[Reviewed]:
    """A loss for the table of flags, with what came after it; nothing where there is none.

    Args:
        course: The weights.
        name: Name of the measure.
        mark: The weight whose loss it is.
        open_: All weights that the same is asked of, in order of age.
        gaps: What it fills of a sentence.
    """
    if mark is None or mark.loss is None:
        return
    found = Measure(
        value=mark.loss.value,
        age_h=mark.age_h,
        at=course.case.at_age(mark.age_h),
        looked_at=course.case.at_age(course.marks[-1].age_h),
        shown_since=partial(_shown_since, course, open_) if len(open_) > 1 else None,
        figure=mark.loss,
        entry_ids=(mark.weight.entry_id,),
        is_answered=mark.is_answered,
        gaps=(("weight", Amount(mark.weight.weight_g, "g")), *gaps.items()),
        says=tuple(since_then(course, mark, needs_answer="unanswered" in name)),
    )
    yield measure(name, found)


def _shown_since(
    course: Course, open_: Sequence[Mark], shows: Callable[[Measure], bool]
) -> datetime | None:
    """When the first was taken of the weights that show a loss without a break; None where the last does not.

    A weight that shows it no more breaks it where it is higher than the one before; a lower one gains no time.
    """
    asked = {id(mark) for mark in open_}
    first: Mark | None = None
    for place in range(len(course.below) - 1, -1, -1):
        mark = course.below[place]
        if id(mark) in asked and mark.loss is not None and shows(_bare(mark, mark.loss)):
            first = mark
        elif not place or mark.weight.weight_g > course.below[place - 1].weight.weight_g:
            break
    return None if first is None else course.case.at_age(first.age_h)


def _bare(mark: Mark, loss: Figure) -> Measure:
    """A loss to compare, without what it fills of a sentence."""
    return Measure(value=loss.value, age_h=mark.age_h, figure=loss)


def since_then(course: Course, mark: Mark, *, needs_answer: bool) -> Iterator[Words]:
    """What came after, where what is found rests on an earlier weight than the last."""
    last = course.marks[-1]
    if last.age_h <= mark.age_h:
        return
    weight, age = Amount(last.weight.weight_g, "g"), Age(last.age_h)
    if needs_answer:
        yield message(
            "No physician has answered; now {weight} at {age}.",
            weight=weight,
            age=age,
        )
    else:
        yield message("Now {weight} at {age}.", weight=weight, age=age)
