"""Over which weights a gain is judged, and what stands until a later one ends it."""

from __future__ import annotations

import pytest

from suffice.assess.review.gain import course_of
from suffice.assess.review.gain_course import single_weighings, uncleared
from suffice.assess.review.weight import usable
from unit.assess.review.reviewed import PARAMETERS, a_case, instant

BOY = "boy, 39+0, vaginal"


def a_course(seen, asked_at, infant=BOY):
    case = a_case(infant, seen, asked_at)
    return course_of(case, usable(case), PARAMETERS, None)


def test_weights_within_hours_are_one_weighing_and_the_last_stands():
    case = a_case(BOY, "20 d: 3900 g; 484 h: 3910 g; 486.5 h: 3930 g; 26 d: 4100 g", "27 d")
    kept = single_weighings(usable(case), PARAMETERS.gain_rules.one_weighing_h)
    assert [one.weight_g for one in kept] == [3910, 3930, 4100]
    assert kept[0].age_h == 484


def test_a_birth_weight_is_a_weighing_of_its_own():
    case = a_case("boy, 39+0, 3500 g, vaginal", "3 h: 3480 g", "4 h")
    kept = single_weighings(usable(case), PARAMETERS.gain_rules.one_weighing_h)
    assert [one.weight_g for one in kept] == [3500, 3480]


def test_a_gain_of_less_than_a_day_is_none():
    assert a_course("20 d: 3900 g; 503.9 h: 3950 g", "22 d").judged(1) is None
    assert a_course("20 d: 3900 g; 504 h: 3950 g", "22 d").judged(1) is not None


def test_a_gain_is_compared_with_the_lines_of_its_own_stretch_of_age():
    """WHO velocity, girls, day 61 to 91: 15th centile 16.5, 25th 19.0 g/day."""
    course = a_course("61 d: 5000 g on ward; 91 d: 5510 g on ward", "92 d", "girl, 40+0, vaginal")
    judged = course.judged(1)
    assert 0.15 < judged.share < 0.25
    assert judged.share_low < judged.share < judged.share_high


def test_what_a_gain_raised_stands_until_one_that_ends_it():
    course = a_course("28 d: 4400 g; 35 d: 4420 g; 42 d: 4700 g; 49 d: 4720 g", "50 d")
    found = uncleared(course, course.judged, lambda one: one.span.gain.g_per_day.value > 30)
    assert [one.span.last.weight_g for one in found] == [4720]
    all_of_them = uncleared(course, course.judged, lambda _: False)
    assert [one.span.last.weight_g for one in all_of_them] == [4720, 4700, 4420]


@pytest.mark.parametrize(("who", "day"), [("physician", 30), ("hospital", 30), ("midwife", None)])
def test_only_the_answer_of_a_physician_counts(who, day):
    case = a_case(BOY, f"28 d: 4400 g; 30 d: answer {who}", "31 d")
    expected = [] if day is None else [instant(f"{day} d")]
    assert [one.at for one in case.answers.known_then] == expected


def test_a_gain_over_a_month_is_that_nearest_to_a_month():
    course = a_course("14 d: 3800 g; 30 d: 4500 g; 36 d: 4700 g; 65 d: 5500 g", "66 d")
    assert course.over(3, 21, 45, 30).first.weight_g == 4700
    assert course.over(3, 50, 60, 55).first.weight_g == 3800
    assert course.over(1, 21, 45, 30) is None
