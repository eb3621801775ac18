"""The course of a weight: each weight beside those before it, and what still stands."""

from __future__ import annotations

import msgspec
import pytest

from spoken import text
from suffice.assess.case import Case
from suffice.assess.review.course import Course, course_of, since_then, worst_of
from suffice.assess.review.rising import review_course
from suffice.knowledge.policy import Policy, Scale
from unit.assess.review.reviewed import PARAMETERS, a_case

BOY = "boy, 39+0, 3500 g, vaginal"


def a_course(seen: str, infant: str = BOY, asked_at: str = "40 d") -> Course:
    return course_of(a_case(infant, seen, asked_at), PARAMETERS)


def reviewed(seen: str, infant: str = BOY, asked_at: str = "40 d"):
    return review_course(a_case(infant, seen, asked_at), PARAMETERS)


def test_each_weight_has_the_lowest_of_those_that_lie_half_a_day_before_it():
    first, near, last = a_course("48 h: 3300 g; 54 h: 3250 g; 72 h: 3350 g").marks
    assert (first.lowest, near.lowest) == (None, None)
    assert last.lowest is not None
    assert (last.lowest.weight_g, last.rise_g) == (3250, 100)
    assert last.gain_g_per_day == pytest.approx(100 / 0.75)


def test_a_clothed_weight_counts_only_where_it_is_lower_than_the_one_before():
    course = a_course("48 h: 3300 g; 60 h: 3400 g clothed; 72 h: 3250 g clothed; 84 h: 3280 g")
    assert [mark.weight.weight_g for mark in course.marks] == [3300, 3250, 3280]


def test_a_rise_is_more_than_82_g_and_from_three_months_on_more_than_191():
    """1.645 times an SD of 50 g (Alsop and Shields 1994), and of 116 g from two months, by a straight line to three."""
    marks = a_course("48 h: 3300 g; 96 h: 3382 g; 97 h: 3383 g").marks
    course = a_course("48 h: 3300 g; 96 h: 3382 g; 97 h: 3383 g")
    assert [course.is_risen(mark) for mark in marks] == [False, False, True]
    assert [course.is_above(marks[0], mark) for mark in marks[1:]] == [False, True]
    older = a_course("14 d: 4000 g; 92 d: 4191 g; 93 d: 4192 g", asked_at="94 d")
    assert [older.is_risen(mark) for mark in older.marks] == [False, False, True]


def test_a_coarse_scale_widens_what_weighing_errs_and_a_fine_one_does_not_narrow_it():
    def noise_g(step_g: float) -> float:
        case = a_case(BOY, "48 h: 3300 g; 96 h: 3400 g", "5 d")
        scales = (Scale(name="scale", resolution_g=step_g),)
        policy = Policy(zone="UTC", scales=scales)
        course = course_of(_with(case, policy), PARAMETERS)
        return course.noise_g(course.marks[0].weight, course.marks[1].weight)

    assert noise_g(1) == noise_g(10) == 82
    # sqrt(35^2 + 100^2 / 12) x sqrt(2) x 1.645
    assert noise_g(100) == pytest.approx(105.5, abs=0.1)


def _with(case: Case, policy: Policy) -> Case:
    return msgspec.structs.replace(case, policy=policy)


def test_birth_weight_reached_again_or_as_good_as_reached_ends_what_was_before():
    def losses(seen: str) -> list[float]:
        return [mark.lost for mark in a_course(seen).below]

    assert losses("72 h: 3150 g; 12 d: 3500 g") == []
    assert losses("72 h: 3150 g; 12 d: 3418 g") == []
    assert losses("72 h: 3150 g; 12 d: 3417 g") == [10.0, 2.4]
    assert losses("72 h: 3150 g; 12 d: 3510 g; 14 d: 3325 g") == [5.0]
    # 3440 g lies near birth weight, and did not come from below.
    assert losses("48 h: 3440 g") == [1.7]
    # So does 3470 g after 3600 g: less than one percent is a loss too while the weight falls.
    assert losses("12 d: 3600 g; 14 d: 3470 g") == [0.9]


def test_an_answer_counts_from_its_time_back_and_only_a_physicians():
    def answered(who: str) -> list[bool]:
        seen = f"48 h: 3200 g; 60 h: 3190 g; 60 h: answer {who}; 61 h: 3185 g"
        return [mark.is_answered for mark in a_course(seen).marks]

    assert answered("physician") == answered("hospital") == [True, True, False]
    assert answered("midwife") == [False, False, False]


def test_the_first_line_that_a_weight_lies_beyond_decides_which_is_worst():
    course = a_course("24 h: 3270 g; 48 h: 3205 g")
    look, watch = "weight_loss.look_vaginal_percent", "weight_loss.watch_vaginal_percent"
    worst = worst_of(course, course.marks, look, watch)
    assert worst is course.marks[0]
    # 8.4 % at 48 h lies beyond the lower line only, 5.2 % at 24 h beyond none.
    course = a_course("24 h: 3318 g; 48 h: 3205 g")
    assert worst_of(course, course.marks, look, watch) is course.marks[1]
    assert worst_of(course, (), look, watch) is None
    assert worst_of(course, course.marks, "weight_loss.high_late_percent") is None


@pytest.mark.parametrize(
    ("needs_answer", "says"),
    [
        (True, "No physician has answered; now 3200 g at 60 h."),
        (False, "Now 3200 g at 60 h."),
    ],
)
def test_what_rests_on_an_earlier_weight_says_what_the_last_one_was(needs_answer, says):
    course = a_course("48 h: 3150 g; 60 h: 3200 g")
    first, last = course.marks
    (said,) = since_then(course, first, needs_answer=needs_answer)
    assert text(said).replace("\N{NO-BREAK SPACE}", " ") == says
    assert list(since_then(course, last, needs_answer=needs_answer)) == []


def test_a_weight_exactly_on_the_first_line_decides_as_one_beyond_it_does():
    """6.3 % at 24 h is the first line; 8.6 % at 42 h lies beyond the second alone, and further."""
    course = a_course("24 h: 3280 g; 42 h: 3199 g")
    look, watch = "weight_loss.look_vaginal_percent", "weight_loss.watch_vaginal_percent"
    first, last = course.marks
    assert (first.lost, course.limit(look, 24)) == (6.3, 6.3)
    assert worst_of(course, course.marks, look, watch) is first
    assert worst_of(course, course.marks, watch) is last
