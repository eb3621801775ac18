"""Which gains are put before the table of flags, and of several the worst."""

from __future__ import annotations

import pytest

from suffice.assess.review.gain import course_of, review_gain, says_nothing
from suffice.assess.review.weight import usable
from suffice.clinical.age import corrected_age_d
from suffice.clinical.working import Figure, Working
from suffice.message import Amount
from unit.assess.review.reviewed import PARAMETERS, a_case

BOY = "boy, 39+0, vaginal"


def reviewed(seen, asked_at, infant=BOY):
    case = a_case(infant, seen, asked_at)
    gestation, age = case.birth.gestation_days, None
    if gestation is not None and gestation < PARAMETERS.age.preterm_before_days.value:
        age = corrected_age_d(gestation, case.age_h, PARAMETERS.age)
    return review_gain(case, usable(case), PARAMETERS, age).reviewed


def named(review):
    return {name: found[0].value for name, found in review.measures.items()}


def test_a_good_gain_that_can_be_told_puts_nothing_before_the_table():
    review = reviewed("28 d: 4400 g; 42 d: 4960 g", "43 d")
    assert named(review) == {}
    assert round(review.figures["gain_g_per_day"].value) == 40


def test_of_several_slow_gains_the_worst_is_asked_until_a_good_one():
    worse_first = reviewed("28 d: 4400 g; 35 d: 4390 g; 42 d: 4460 g", "43 d")
    assert named(worse_first)["unanswered_gain_g_per_day"] == pytest.approx(-10 / 7)
    ended = reviewed("28 d: 4400 g; 35 d: 4390 g; 42 d: 4460 g; 49 d: 4760 g", "50 d")
    # The month as a whole was slow, which is a note.
    assert named(ended).keys() == {"month_gain_fraction"}


def test_an_answer_leaves_what_needs_none():
    review = reviewed("28 d: 4400 g; 35 d: 4390 g; 35.2 d: answer physician", "36 d")
    assert "unanswered_gain_g_per_day" not in review.measures
    assert "unanswered_gain_fraction" not in review.measures
    assert "surely_low_gain_fraction" in review.measures


def test_the_first_weeks_count_from_the_lowest_weight_after_birth_only():
    seen = "3 d: 3300 g; 9 d: 3348 g"
    assert named(reviewed(seen, "9.1 d"))["first_weeks_gain_g_per_day"] == 8.0
    from_birth = reviewed("9 d: 3572 g", "9.1 d", "boy, 39+0, 3500 g, vaginal")
    assert "first_weeks_gain_g_per_day" not in from_birth.measures
    very_early = reviewed(seen, "9.1 d", "boy, 33+0, vaginal")
    assert "first_weeks_gain_g_per_day" not in very_early.measures


def test_before_term_age_grams_count_and_no_line():
    review = reviewed("5 d: 2300 g; 19 d: 2440 g", "20 d", "boy, 35+0, vaginal")
    assert named(review)["gain_of_preterm_g_per_day"] == pytest.approx(10)
    assert "low_gain_fraction" not in review.measures
    assert named(review)["gain_of_preterm_g_per_kg_per_day"] == pytest.approx(4.2, abs=0.1)


def test_a_wide_interval_is_asked_only_where_the_gain_may_be_slow():
    may_be = reviewed("22 d: 3900 g on ward; 25 d: 3990 g on ward", "26 d")
    assert may_be.measures["gain_half_width_g_per_day"][0].value > 20
    cannot_be = reviewed("22 d: 3900 g on ward; 25 d: 4150 g on ward", "26 d")
    assert "gain_half_width_g_per_day" not in cannot_be.measures


def test_a_course_of_an_infant_born_preterm_is_read_at_its_corrected_age():
    case = a_case("boy, 35+0, vaginal", "60 d: 4000 g; 90 d: 4600 g", "91 d")
    age = corrected_age_d(245, case.age_h, PARAMETERS.age)
    course = course_of(case, usable(case), PARAMETERS, age)
    assert course.corrected_d(90 * 24) == pytest.approx(55)


@pytest.mark.parametrize(("last_d", "is_asked"), [(34.9, True), (35, False), (35.5, False)])
def test_what_a_neonatal_unit_aims_for_is_asked_before_term_age_only(last_d, is_asked):
    review = reviewed(f"26 d: 2700 g; {last_d} d: 2780 g", f"{last_d} d", "boy, 35+0, vaginal")
    assert ("gain_of_preterm_g_per_kg_per_day" in review.measures) is is_asked


def test_a_gain_that_tells_nothing_says_between_what_it_lies_zero_too():
    gain = Figure(
        value=30.0, low=0.0, high=60.0, level=0.9, unit="g/d", working=Working(formula="given")
    )
    assert says_nothing(gain).values == {"low": Amount(0.0, "g/d"), "high": Amount(60.0, "g/d")}


def test_a_gain_is_compared_at_the_middle_of_its_interval():
    found = reviewed("28 d: 4400 g; 42 d: 4500 g", "43 d").measures["low_gain_fraction"][0]
    ages = [dict(one.values)["age"] for one in found.figure.working.notes if "age" in one.values]
    assert ages == [Amount(35.0, "d")]


def test_what_came_since_is_said_of_an_earlier_gain_only():
    slow = "28 d: 4400 g; 35 d: 4390 g"
    alone = reviewed(slow, "36 d").measures["unanswered_gain_g_per_day"][0]
    assert not any("Since then" in str(one) for one in alone.says)


@pytest.mark.parametrize(
    ("last_d", "asked"),
    [
        (13.9, set()),
        (14, {"low_gain_fraction"}),
        (182.9, {"low_gain_fraction"}),
        (183, {"older_low_gain_fraction"}),
    ],
)
def test_a_slow_gain_is_asked_at_each_age_by_the_rows_of_that_age_borders_included(last_d, asked):
    seen = f"{last_d - 10} d: 4400 g; {last_d} d: 4420 g"
    found = reviewed(seen, f"{last_d} d").measures.keys()
    assert found & {"low_gain_fraction", "older_low_gain_fraction"} == asked
