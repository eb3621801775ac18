"""Whether the weight rises once it should, and how it comes back to birth weight."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.course import (
    GAINING,
    Course,
    Mark,
    course_of,
    loss_measure,
    since_then,
    worst_of,
)
from suffice.assess.review.falling import review_fall
from suffice.assess.review.loss import is_fed_formula_only, is_late_preterm, review_loss
from suffice.assess.review.result import Reviewed, measure, sign, together
from suffice.assess.rules.table import Measure, Sign
from suffice.assess.rules.truth import truth_of
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Quantity, Working
from suffice.language.times import between_h
from suffice.message import Age, Amount, Instant, Param, Words, message

NOT_KNOWN_RATE: Final = message("gain not known")


def review_course(case: Case, parameters: CareParameters) -> Reviewed:
    """What the weights say up to the return to birth weight, and of a fall after a rise.

    Args:
        case: The infant.
        parameters: Noise of weighing.
    """
    course = course_of(case, parameters)
    if not course.marks:
        return Reviewed()
    parts = [
        _lowest_sign(course),
        _fall_sign(course),
        *_review_rising(course),
        *review_fall(course),
    ]
    if course.birth is not None:
        parts += [*review_loss(course), *_review_regain(course)]
    return together(parts)


def _lowest_sign(course: Course) -> Reviewed:
    """Whether the weight still falls; a first one below birth weight is taken as falling."""
    last = course.marks[-1]
    is_first = last.lowest is None and last.is_below_birth
    return sign(
        "latest_weight_is_lowest",
        is_first or _is_not_rising(course, last),
        age_h=last.age_h,
        is_answered=course.is_answered(last, last.lowest, last.highest),
        degree=-last.weight.weight_g,
        entry_ids=(last.weight.entry_id,),
        working=Working(formula=message("no weight before it is lower, or clearly higher")),
        at=Instant(course.case.at_age(last.age_h)),
    )


def _fall_sign(course: Course) -> Reviewed:
    """Whether a fall rests on more than one weight; without the birth weight it is taken to."""
    last = course.marks[-1]
    return sign(
        "fall_is_seen",
        last.lowest is not None or course.birth is None,
        age_h=last.age_h,
        is_answered=course.is_answered(last, last.lowest, last.highest),
        entry_ids=(last.weight.entry_id,),
        at=Instant(course.case.at_age(last.age_h)),
    )


def _is_not_rising(course: Course, mark: Mark) -> bool:
    """Whether it lies no higher than the lowest before it, or beyond noise below one since."""
    if mark.lowest is None or mark.rise_g is None or not mark.is_below_birth:
        return False
    if mark.rise_g <= 0:
        return True
    highest = mark.highest or mark.lowest
    return highest.weight_g - mark.weight.weight_g > course.noise_g(highest, mark.weight)


def _is_slow(course: Course, mark: Mark) -> bool:
    """Whether it lies above the lowest, by no more than weighing errs and too little a day."""
    rise_g, gain = mark.rise_g, mark.gain_g_per_day
    if rise_g is None or gain is None or rise_g <= 0 or course.is_near_birth(mark):
        return False
    return not course.is_risen(mark) and gain < course.value(GAINING)


def _review_rising(course: Course) -> Iterator[Reviewed]:
    """Weights that do not rise from day 5 on."""
    start_h = course.value("weight_change.falling_from_h")
    found = [
        mark for mark in course.below if mark.age_h >= start_h and _is_not_rising(course, mark)
    ]
    later_h = course.value("weight_change.falling_look_h")

    def is_cleared(mark: Mark) -> bool:
        beyond_noise = mark.age_h >= later_h
        return course.rises_later(mark) if beyond_noise else course.is_higher_later(mark)

    uncleared = [mark for mark in found if not is_cleared(mark)]
    unanswered = [mark for mark in found if not course.is_answered(mark, mark.lowest, mark.highest)]
    if course.birth is None:
        name = "not_rising_birth_weight_unknown"
        latest = uncleared[-1] if uncleared else course.marks[-1]
        yield _sign(course, name, latest, present=bool(uncleared), gaps=_course_gaps(latest))
        yield from _review_fall_from_highest(course)
        return
    slow = [
        mark
        for mark in course.below
        if mark.age_h >= later_h and _is_slow(course, mark) and not course.rises_later(mark)
    ]
    yield from loss_measure(course, "slow_rise_loss_percent", next(reversed(slow), None), slow)
    worst = worst_of(course, unanswered, "weight_loss.falling_percent")
    names: list[tuple[str, Mark | None, list[Mark]]] = [
        ("not_rising_loss_percent", next(reversed(uncleared), None), uncleared),
        ("falling_unanswered_loss_percent", worst, unanswered),
    ]
    if is_late_preterm(course):
        key = "weight_loss.falling_late_preterm_percent"
        worst = worst_of(course, unanswered, key)
        names.append(("falling_late_preterm_loss_percent", worst, unanswered))
    for name, mark, open_ in names:
        if mark is not None:
            yield from loss_measure(course, name, mark, open_, **_course_gaps(mark))


def _review_fall_from_highest(course: Course) -> Iterator[Reviewed]:
    """How far the latest weight lies below the highest before it, in place of an unknown birth weight.

    The true loss can only be greater.
    """
    *before, last = course.marks
    if not before:
        return
    highest = max((mark.weight for mark in before), key=lambda one: one.weight_g)
    if last.weight.weight_g >= highest.weight_g or course.is_answered(last, highest):
        return
    lost = 100 * (highest.weight_g - last.weight.weight_g) / highest.weight_g
    figure = Figure(
        value=lost,
        unit="%",
        working=Working(
            formula=message("100 x (highest weight before - weight) / highest weight before"),
            inputs=(
                Quantity(name=message("highest weight before"), value=highest.weight_g, unit="g"),
                Quantity(name=message("weight"), value=last.weight.weight_g, unit="g"),
            ),
        ),
    )
    found = Measure(
        value=lost,
        age_h=last.age_h,
        at=course.case.at_age(last.age_h),
        figure=figure,
        entry_ids=(last.weight.entry_id,),
        gaps=(
            ("first", Amount(highest.weight_g, "g")),
            ("last", Amount(last.weight.weight_g, "g")),
        ),
    )
    yield measure("fall_from_highest_percent", found)


def _course_gaps(mark: Mark) -> dict[str, Param]:
    """Where the weight came from, in words."""
    start = mark.lowest or mark.weight
    if mark.highest is not None and (mark.rise_g or 0.0) > 0:
        start = mark.highest
    hours = mark.age_h - start.age_h
    loss_g = start.weight_g - mark.weight.weight_g
    age = Age(mark.age_h)
    first, last = Amount(start.weight_g, "g"), Amount(mark.weight.weight_g, "g")
    if loss_g <= 0:
        course = message(
            "No gain at {age}: {first}, and {last} after {between}",
            age=age,
            first=first,
            last=last,
            between=Age(between_h(hours)),
        )
        return {"course": course}
    course = message(
        "Losing {rate} a day at {age}: {first} to {last} in {between}",
        rate=Amount(loss_g * HOURS_PER_DAY / hours, "g", decimals=0),
        age=age,
        first=first,
        last=last,
        between=Age(between_h(hours)),
    )
    return {"course": course}


def _review_regain(course: Course) -> Iterator[Reviewed]:
    """How far birth weight is, and how fast it comes nearer."""
    last = course.marks[-1]
    if not last.is_below_birth:
        return
    is_near = course.is_near_birth(last)
    yield _regain_sign(course, "not_regained", last, present=not is_near)
    yield _regain_sign(course, "regain_within_noise", last, present=is_near)
    by_formula = not is_near and is_fed_formula_only(course.case)
    yield _regain_sign(course, "formula_not_regained", last, present=by_formula)
    slow = course.value("regain.not_gaining_g_per_day")
    yield _regain_sign(course, "gain_since_lowest_unknown", last, present=last.lowest is None)
    yield from _gainloss_measure(course, "gain_since_lowest_g_per_day", last)
    start_h = (course.limit("choice:regain_limit", last.age_h) or 0.0) * HOURS_PER_DAY
    open_ = [
        (gain, mark)
        for mark in course.below
        if mark.age_h >= start_h
        and not course.is_answered(mark, mark.lowest)
        and (gain := mark.gain_g_per_day) is not None
        and gain < slow
        and not course.is_near_birth(mark)
    ]
    if open_:
        _, slowest = min(open_, key=lambda one: (one[0], -one[1].age_h))
        yield from _gainloss_measure(course, "unanswered_gain_since_lowest_g_per_day", slowest)


def _regain_gaps(course: Course, mark: Mark) -> dict[str, Param]:
    birth_g = course.birth.weight_g if course.birth else mark.weight.weight_g
    gain = mark.gain_g_per_day
    gaining: Words = NOT_KNOWN_RATE
    if gain is not None and gain >= 0:
        gaining = message("gaining {rate}", rate=Amount(gain, "g/d", decimals=0))
    elif gain is not None:
        gaining = message("losing {rate}", rate=Amount(-gain, "g/d", decimals=0))
    return {"to_go": Amount(birth_g - mark.weight.weight_g, "g"), "gaining": gaining}


def _regain_sign(course: Course, name: str, mark: Mark, *, present: bool) -> Reviewed:
    return _sign(course, name, mark, present=present, gaps=_regain_gaps(course, mark))


def _sign(
    course: Course, name: str, mark: Mark, *, present: bool, gaps: Mapping[str, Param]
) -> Reviewed:
    """A sign at the age of a weight."""
    found = Sign(
        present=truth_of(present),
        age_h=mark.age_h,
        at=course.case.at_age(mark.age_h),
        is_answered=mark.is_answered,
        degree=-mark.weight.weight_g,
        entry_ids=(mark.weight.entry_id,),
        gaps=tuple(gaps.items()),
    )
    return Reviewed(signs={name: (found,)})


def _gainloss_measure(course: Course, name: str, mark: Mark) -> Iterator[Reviewed]:
    if mark.lowest is None or mark.gain_g_per_day is None:
        return
    working = Working(
        formula=message("(weight - lowest weight) / days between"),
        inputs=(
            Quantity(name=message("weight"), value=mark.weight.weight_g, unit="g"),
            Quantity(name=message("lowest weight"), value=mark.lowest.weight_g, unit="g"),
        ),
    )
    found = Measure(
        value=mark.gain_g_per_day,
        age_h=mark.age_h,
        at=course.case.at_age(mark.age_h),
        figure=Figure(value=mark.gain_g_per_day, unit="g/d", working=working),
        is_answered=course.is_answered(mark, mark.lowest),
        entry_ids=(mark.lowest.entry_id, mark.weight.entry_id),
        gaps=tuple(_regain_gaps(course, mark).items()),
        says=tuple(since_then(course, mark, needs_answer=True)),
    )
    yield measure(name, found)
