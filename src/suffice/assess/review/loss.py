"""Loss of birth weight against the lines of its age, and by who has answered it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from suffice.assess.case import Case
from suffice.assess.review.course import Course, Mark, loss_measure, worst_of
from suffice.assess.review.result import Reviewed
from suffice.clinical.entry import Birth, Expression, Feed, TestWeight
from suffice.knowledge.store import Content

VAGINAL: Final = frozenset({"vaginal", "assisted vaginal"})


class Line(NamedTuple):
    """The lines of one group of infants: content keys of series along the age in hours."""

    look: str
    watch: str


EARLY: Final = {
    "vaginal": Line("weight_loss.look_vaginal_percent", "weight_loss.watch_vaginal_percent"),
    "caesarean": Line("weight_loss.look_caesarean_percent", "weight_loss.watch_caesarean_percent"),
    "early_term_vaginal": Line(
        "weight_loss.look_early_term_vaginal_percent",
        "weight_loss.watch_early_term_vaginal_percent",
    ),
    "early_term_caesarean": Line(
        "weight_loss.look_early_term_caesarean_percent",
        "weight_loss.watch_early_term_caesarean_percent",
    ),
}
"""The lines of the first days, by whom they are for."""
LATE: Final = {
    "": Line("weight_loss.look_late_percent", "weight_loss.watch_late_percent"),
    "early_term_": Line(
        "weight_loss.look_early_term_late_percent", "weight_loss.watch_early_term_late_percent"
    ),
}
"""The lines from day 5 on, by the beginning of the names of their measures."""


def review_loss(course: Course) -> Iterator[Reviewed]:
    """The losses that still stand, each under the name of what it is compared with.

    Args:
        course: The weights; the birth weight is known.
    """
    if not course.below:
        return
    yield from _review_unanswered(course)
    yield from _review_early(course)
    yield from _review_late(course)
    yield from _review_late_preterm(course)
    yield from _review_small(course)
    yield from _review_first(course)
    yield from _review_formula(course)


def _review_unanswered(course: Course) -> Iterator[Reviewed]:
    """Losses that no physician has answered, and those that an answer no longer covers."""
    quiet: list[bool] = []
    severe = course.value("weight_loss.severe_percent")
    known: list[Mark] = []
    open_: list[Mark] = []
    for place, mark in enumerate(course.below):
        rises = (
            place > 0
            and quiet[-1]
            and mark.weight.weight_g > course.below[place - 1].weight.weight_g
        )
        quiet.append(mark.is_answered or rises)
        if rises and not mark.is_answered and mark.lost >= severe:
            known.append(mark)
        elif not quiet[-1]:
            open_.append(mark)
    greatest = max(open_, key=lambda mark: (mark.lost, mark.age_h), default=None)
    yield from loss_measure(course, "greatest_unanswered_loss_percent", greatest, open_)
    limit = "choice:weight_loss_limit"
    worst = worst_of(course, open_, limit)
    yield from loss_measure(course, "unanswered_loss_percent", worst, open_)
    high = "weight_loss.high_late_percent"
    worst = worst_of(course, open_, high)
    yield from loss_measure(course, "late_unanswered_loss_percent", worst, open_)
    yield from loss_measure(course, "known_severe_loss_percent", known[-1] if known else None)
    last = course.below[-1]
    risen = last if quiet[-1] and not open_ and course.is_risen(last) else None
    yield from loss_measure(course, "risen_answered_loss_percent", risen)


def _gestation(course: Course) -> float | None:
    birth = course.case.birth
    return None if birth is None else birth.gestation_days


def _is_between(course: Course, start: str, end: str) -> bool:
    """Whether the infant was born from one gestation to another."""
    days = _gestation(course)
    return days is not None and course.value(start) <= days < course.value(end)


def is_late_preterm(course: Course) -> bool:
    """Whether the infant was born late preterm."""
    return _is_between(course, "age.late_preterm_from_days", "age.preterm_before_days")


def _is_early(birth: Birth | None, content: Content) -> bool:
    """Whether the lower lines hold: of infants born early term, and so of those born before."""
    days = None if birth is None else birth.gestation_days
    return days is not None and days < content.constant("age.early_term_before_days").value


def _begins(birth: Birth | None, content: Content) -> str:
    """How the names of the lines that hold for an infant begin."""
    return "early_term_" if _is_early(birth, content) else ""


def _lines(birth: Birth | None, content: Content) -> dict[str, Line]:
    """The lines of the first days that hold for the infant: both where the mode is not known."""
    mode, begins = birth.mode if birth else None, _begins(birth, content)
    names = ["vaginal"] if mode in VAGINAL else ["caesarean"]
    if mode is None:
        names = ["vaginal", "caesarean"]
    return {begins + name: EARLY[begins + name] for name in names}


def watch_lines(birth: Birth | None, content: Content) -> tuple[str, ...]:
    """Content keys of the lower lines of all ages that hold for the infant.

    Args:
        birth: Its birth facts; None where nothing is known of it.
        content: The content in force.
    """
    early = (line.watch for line in _lines(birth, content).values())
    return (*early, LATE[_begins(birth, content)].watch)


def _is_below_watch(course: Course, mark: Mark) -> bool:
    """Whether a weight lies below the lower line of its age, so that it clears one before it."""
    keys = watch_lines(course.case.birth, course.case.content)
    limits = [limit for key in keys if (limit := course.limit(key, mark.age_h)) is not None]
    return bool(limits) and mark.lost < min(limits)


def _open(course: Course, marks: Iterable[Mark]) -> list[Mark]:
    """Those that no later weight has cleared: by a rise beyond noise, or below the lower line."""
    cleared_h = max(
        (one.age_h for one in course.below if _is_below_watch(course, one)), default=-math.inf
    )
    return [mark for mark in marks if mark.age_h >= cleared_h and not course.rises_later(mark)]


def _review_early(course: Course) -> Iterator[Reviewed]:
    """The lines of the first days; that of late preterm infants lies above the lowest of them."""
    open_ = _open(course, (mark for mark in course.below if not course.is_risen(mark)))
    for name, line in _lines(course.case.birth, course.case.content).items():
        worst = worst_of(course, open_, line.look, line.watch)
        yield from loss_measure(course, f"{name}_loss_percent", worst, open_)


def _review_late(course: Course) -> Iterator[Reviewed]:
    """The lines from day 5 on: a gain that is brisk enough lowers the level from day 6 on."""
    begins = _begins(course.case.birth, course.case.content)
    line = LATE[begins]
    later_h = course.value("weight_change.falling_look_h")
    slow = [one for one in course.below if one.age_h < later_h or not course.is_gaining(one)]
    name = f"{begins}late_loss_percent"
    open_ = _open(course, slow)
    yield from loss_measure(course, name, worst_of(course, open_, line.look), open_)
    no_rise = [
        one
        for one in course.below
        if not course.is_risen(one)
        and (one.age_h >= later_h or one.rise_g is None or one.rise_g <= 0)
    ]
    watched = worst_of(course, _open(course, no_rise), line.watch)
    yield from loss_measure(course, f"{begins}late_watch_loss_percent", watched)
    last = course.below[-1]
    if last.age_h >= later_h and course.is_gaining(last):
        yield from loss_measure(course, f"{begins}rising_loss_percent", last)


def _review_late_preterm(course: Course) -> Iterator[Reviewed]:
    """The line of late preterm infants: only a rise beyond noise, to below it, clears a loss."""
    if not is_late_preterm(course):
        return
    key = "weight_loss.limit_late_preterm_percent"

    def is_cleared(mark: Mark) -> bool:
        return any(
            (course.is_risen(one) or course.is_above(mark, one))
            and one.lost <= (course.limit(key, one.age_h) or 0.0)
            for one in course.after(mark)
        )

    open_ = [mark for mark in course.below if not is_cleared(mark)]
    worst = worst_of(course, open_, key)
    yield from loss_measure(course, "late_preterm_loss_percent", worst, open_)
    near = [
        mark for mark in open_ if not course.is_risen(mark) and not course.is_higher_later(mark)
    ]
    watch = worst_of(course, near, "weight_loss.watch_late_preterm_percent")
    yield from loss_measure(course, "late_preterm_watch_loss_percent", watch)


def _review_small(course: Course) -> Iterator[Reviewed]:
    """The loss of infants that were small at birth, until the weight rises."""
    if course.birth is None or course.birth.weight_g >= course.value("weight_loss.small_infant_g"):
        return
    open_ = [
        mark
        for mark in course.below
        if not course.is_risen(mark) and not course.is_higher_later(mark)
    ]
    worst = max(open_, key=lambda mark: (mark.lost, mark.age_h), default=None)
    yield from loss_measure(course, "small_infant_loss_percent", worst, open_)


def _review_first(course: Course) -> Iterator[Reviewed]:
    """A first weight after birth that came late: taken as falling until a second one is higher."""
    first = course.marks[0]
    from_h = course.value("weight_change.first_weight_taken_as_falling_h")
    if first.age_h <= from_h or not first.is_below_birth:
        return
    gap_h = course.value("weight_change.course_gap_h")
    seconds = [one for one in course.marks if one.age_h >= first.age_h + gap_h]
    weight_g = first.weight.weight_g
    if not any(one.weight.weight_g > weight_g for one in seconds):
        yield from loss_measure(course, "first_late_loss_percent", first)
    if not any(course.is_above(first, one) for one in seconds):
        yield from loss_measure(course, "first_late_unproven_loss_percent", first)


def _review_formula(course: Course) -> Iterator[Reviewed]:
    """The loss of an infant of whom nothing but formula was seen."""
    if not is_fed_formula_only(course.case):
        return
    mode = course.case.birth.mode if course.case.birth else None
    stands = [mark for mark in course.below if not course.is_higher_later(mark)]
    worst = max(stands, key=lambda mark: (mark.lost, mark.age_h), default=None)
    name = "formula_caesarean_loss_percent" if mode == "caesarean" else "formula_loss_percent"
    yield from loss_measure(course, name, worst, stands)
    open_ = [mark for mark in course.below if not mark.is_answered]
    greatest = max(open_, key=lambda mark: (mark.lost, mark.age_h), default=None)
    yield from loss_measure(course, "formula_unanswered_loss_percent", greatest, open_)


def is_fed_formula_only(case: Case) -> bool:
    """Whether feeds were seen, and all of them were formula."""
    feeds = {feed.milk for _, feed in case.facts(Feed)}
    return feeds == {"formula"} and not case.facts(TestWeight) and not case.facts(Expression)
