"""A weight against its age, the weight before it and the birth weight, from both sides of each limit."""

from __future__ import annotations

import pytest

from entry_limits import LIMITS
from spoken import text
from suffice.clinical.weight.check import Previous, check_weight, slip_words, weight_by_age
from suffice.clinical.weight.slip import Slip
from suffice.message import message


def codes(weight_g, age_h=72.0, **more):
    return [one.code for one in check_weight(weight_g, age_h, LIMITS, **more)]


def test_pounds_taken_for_kilograms_are_named():
    problems = check_weight(7300, 72, LIMITS, previous=Previous(3400, 24))
    assert problems[0].code == "WEIGHT-002"
    assert "pounds taken for kilograms: 3311 g" in text(problems[0].fix)


def test_a_small_infant_that_grows_on_is_not_asked_about_again():
    assert check_weight(1700, 30 * 24, LIMITS)[0].code == "WEIGHT-002"
    assert check_weight(1700, 30 * 24, LIMITS, previous=Previous(1450, 20 * 24)) == ()


def test_a_slip_is_offered_only_where_it_would_follow_the_weight_before():
    problems = check_weight(1300, 30 * 24, LIMITS, previous=Previous(1700, 29 * 24))
    assert [problem.code for problem in problems] == ["WEIGHT-002", "WEIGHT-003"]
    assert "Perhaps" not in "".join(text(problem.fix) for problem in problems)


@pytest.mark.parametrize(("weight_g", "codes"), [(3410, []), (3390, ["WEIGHT-003"])])
def test_a_deep_fall_is_asked_about_however_long_ago_the_weight_before(weight_g, codes):
    problems = check_weight(weight_g, 60 * 24, LIMITS, previous=Previous(4000, 30 * 24))
    assert [problem.code for problem in problems] == codes


@pytest.mark.parametrize(("weight_g", "asked"), [(4250, False), (4251, True), (3750, False)])
def test_within_a_day_a_change_as_heavy_as_clothes_is_asked_about(weight_g, asked):
    problems = check_weight(weight_g, 30 * 24, LIMITS, previous=Previous(4000, 29 * 24))
    assert bool(problems) is asked


@pytest.mark.parametrize(("days", "asked"), [(5, True), (6, False)])
def test_over_days_a_change_is_asked_about_by_its_rate(days, asked):
    later_h = (30 + days) * 24
    problems = check_weight(4550, later_h, LIMITS, previous=Previous(4000, 30 * 24))
    assert bool(problems) is asked


def test_a_large_loss_from_birth_is_asked_and_a_physician_named():
    (problem,) = check_weight(2850, 96, LIMITS, birth_weight_g=3400)
    assert problem.code == "WEIGHT-004"
    assert problem.doubtful
    assert "is 16 % below the birth weight of 3400 g" in text(problem.why)
    assert "physician" in text(problem.fix)


def test_a_loss_that_cannot_be_is_refused():
    problems = check_weight(1800, 96, LIMITS, birth_weight_g=3400)
    assert [problem.code for problem in problems] == ["WEIGHT-005"]


@pytest.mark.parametrize(
    ("weight_g", "expected"),
    [
        (299, ["WEIGHT-001"]),
        (300, ["WEIGHT-002"]),
        (999, ["WEIGHT-002"]),
        (1000, []),
        (5500, []),
        (5501, ["WEIGHT-002"]),
        (8000, ["WEIGHT-002"]),
        (8001, ["WEIGHT-001"]),
        (float("nan"), ["WEIGHT-001"]),
    ],
)
def test_a_weight_at_the_limits_of_the_day_of_birth(weight_g, expected):
    assert codes(weight_g, 0) == expected


@pytest.mark.parametrize("age_d", [730, 731, 4000])
def test_past_the_last_age_of_the_limits_those_of_the_last_hold(age_d):
    assert codes(19_500, age_d * 24) == []
    assert codes(19_501, age_d * 24) == ["WEIGHT-002"]
    assert codes(28_001, age_d * 24) == ["WEIGHT-001"]


def test_the_limits_rise_with_age():
    # Straight lines from 1000 to 1800 g and from 5500 to 6800 g over 30 days.
    assert codes(1399, 15 * 24) == codes(6151, 15 * 24) == ["WEIGHT-002"]
    assert codes(1400, 15 * 24) == codes(6150, 15 * 24) == []


def test_what_is_refused_by_age_is_asked_nothing_more():
    found = codes(32_500, 72, previous=Previous(3400, 24), birth_weight_g=3400)
    assert found == ["WEIGHT-001"]


def test_impossible_is_refused_and_unlikely_is_asked():
    refused, asked = check_weight(8001, 0, LIMITS)[0], check_weight(8000, 0, LIMITS)[0]
    assert (refused.doubtful, asked.doubtful) == (False, True)
    assert "300 g to 8000 g" in text(refused.why)
    assert "1000 g to 5500 g" in text(asked.why)


@pytest.mark.parametrize(
    ("weight_g", "expected"),
    [
        (3400, []),
        (2890, []),  # 15 %, the limit itself
        (2889, ["WEIGHT-004"]),
        (1870, ["WEIGHT-004"]),  # 45 %, the limit itself
        (1869, ["WEIGHT-005"]),
    ],
)
def test_the_loss_from_birth_at_its_limits(weight_g, expected):
    assert codes(weight_g, 72, birth_weight_g=3400) == expected


@pytest.mark.parametrize("birth_weight_g", [None, 0, -3400])
def test_no_loss_is_worked_out_of_a_birth_weight_that_is_none(birth_weight_g):
    assert codes(1500, 72, birth_weight_g=birth_weight_g) == []


@pytest.mark.parametrize(
    ("weight_g", "expected"),
    [(2750, []), (2749, ["WEIGHT-003"]), (3250, []), (3251, ["WEIGHT-003"])],
)
def test_two_hours_after_a_weight_clothes_and_a_feed_are_let_be(weight_g, expected):
    assert codes(weight_g, 50, previous=Previous(3000, 48)) == expected


@pytest.mark.parametrize(("previous_age_h", "expected"), [(0, []), (1, ["WEIGHT-003"])])
def test_only_from_birth_may_a_weight_fall_by_its_share_at_once(previous_age_h, expected):
    # 450 g of 3400 g are 13 %: more than clothes, less than the 15 % that is asked about.
    assert codes(2950, 48, previous=Previous(3400, previous_age_h)) == expected


@pytest.mark.parametrize(
    ("hours", "span"), [(36, "36 h before"), (47, "47 h before"), (72, "3 days before")]
)
def test_the_time_since_the_weight_before_is_said_as_an_age(hours, span):
    (problem,) = check_weight(4300, 240 + hours, LIMITS, previous=Previous(3400, 240))
    assert problem.code == "WEIGHT-003"
    assert span in text(problem.why)
    assert "+900 g" in text(problem.why)


def test_by_age_alone_any_slip_that_fits_is_offered_and_with_the_weight_before_only_what_follows():
    (alone,) = weight_by_age(32_800, 72, LIMITS)
    assert "3280 g" in text(alone.fix)
    (following,) = weight_by_age(32_800, 72, LIMITS, follows=lambda one: one < 3000)
    assert "Perhaps" not in text(following.fix)


def test_the_age_is_told_in_whole_days():
    refused, asked = (weight_by_age(grams, 14.6 * 24, LIMITS)[0] for grams in (9000, 6500))
    assert "the range for age 15 days" in text(refused.why)
    assert "unusual for age 15 days" in text(asked.why)


@pytest.mark.parametrize(("weight_g", "is_offered"), [(10_000, True), (9999, False)])
def test_a_slip_may_lie_at_the_limit_of_what_is_usual_itself(weight_g, is_offered):
    (problem,) = weight_by_age(weight_g, 0, LIMITS)
    assert ("one zero too many" in text(problem.fix)) is is_offered


def test_of_two_slips_that_follow_the_weight_before_the_nearer_alone_is_offered():
    (problem,) = check_weight(3621, 264, LIMITS, previous=Previous(3366, 240))
    assert problem.code == "WEIGHT-003"
    assert text(problem.fix).count("Perhaps") == 1
    assert "two digits swapped: 3261 g" in text(problem.fix)


def test_slips_are_asked_one_question_each():
    slips = [Slip(weight_g=grams, words=message("two digits swapped")) for grams in (3280, 3820)]
    assert text(slip_words(slips)).count("Perhaps") == 2
    assert slip_words([]) == ""


@pytest.mark.parametrize(
    ("weight_g", "clothes_g", "expected"),
    [
        (3540, 0.0, ["WEIGHT-003"]),
        (3540, 220.0, []),
        (3520, 220.0, ["WEIGHT-003"]),
        (4460, 0.0, ["WEIGHT-003"]),
        (4460, -220.0, []),
        (4480, -220.0, ["WEIGHT-003"]),
        (4460, 220.0, ["WEIGHT-003"]),
        (3540, -220.0, ["WEIGHT-003"]),
    ],
)
def test_clothes_taken_off_or_put_on_explain_what_they_weigh_and_no_more(
    weight_g, clothes_g, expected
):
    previous = Previous(4000, 29 * 24, clothes_g)
    problems = check_weight(weight_g, 30 * 24, LIMITS, previous=previous)
    assert [one.code for one in problems] == expected
