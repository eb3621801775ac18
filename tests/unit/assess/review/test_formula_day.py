"""What a whole day of formula met of the need, of an infant of whom formula alone was seen."""

from __future__ import annotations

import pytest

from suffice.assess.parameters import parameters_of
from suffice.assess.review.formula_day import review_formula_day
from suffice.clinical.working import Figure, Working
from unit.assess.review.reviewed import CONTENT, PARAMETERS, a_case

BOY = "boy, 39+0, 3400 g, vaginal"
NEED = Figure(value=480.0, unit="mL/d", working=Working(formula="the need"))


def day(until_d, ml, times=8):
    """So many equal bottles, evenly over the 24 hours up to an age."""
    at = (until_d - 1 + (number + 1) / times for number in range(times))
    return "; ".join(f"{one:.4f} d: {ml} mL formula" for one in at)


def shares(seen, asked_at="15 d"):
    review = review_formula_day(a_case(BOY, seen, asked_at), PARAMETERS, NEED)
    return [one.value for one in review.measures.get("formula_share_percent", ())]


@pytest.mark.parametrize("ml", [15, 30, 60, 90])
def test_the_share_is_the_sum_of_the_bottles_by_the_need(ml):
    assert shares(day(14, ml)) == [pytest.approx(100 * 8 * ml / 480)]


def test_the_latest_whole_day_is_the_one_that_counts():
    assert shares(f"{day(13, 30)}; {day(14, 60)}") == [pytest.approx(100)]
    # A day that was not written to its end takes nothing back.
    assert shares(f"{day(14, 30)}; 14.7 d: 200 mL formula") == [pytest.approx(50)]


def test_it_stands_however_long_nothing_is_written_down():
    for asked_at in ("14 d", "14.6 d", "20 d"):
        assert shares(day(14, 30), asked_at) == [pytest.approx(50)]


@pytest.mark.parametrize(
    "seen",
    [
        "14 d: 3400 g",
        "0.8 d: 30 mL formula",
        day(14, 30, times=3),  # gaps of eight hours
        f"{day(14, 30)}; 13.9 d: feed",
        f"{day(14, 30)}; 13.9 d: test weight 3400 to 3440 g",
        f"{day(1, 10)}",  # the first day begins with the birth and is known; before it nothing is
        f"{day(12, 30)}; 13.5 d: 3400 g",
    ],
)
def test_nothing_is_said_of_a_day_that_is_not_whole_or_was_weighed_since(seen):
    assert shares(seen) == ([pytest.approx(100 * 80 / 480)] if seen == day(1, 10) else [])


def test_without_a_birth_there_is_no_day():
    case = a_case("nobody knows", day(14, 30), "15 d")
    assert review_formula_day(case, PARAMETERS, NEED).measures == {}


def test_who_is_planned_at_the_breast_has_a_share_of_its_own():
    case = a_case(BOY, f"12 d: plan every feed; {day(14, 30)}", "15 d")
    found = review_formula_day(case, PARAMETERS, NEED).measures
    assert "formula_share_percent" not in found
    assert [one.value for one in found["formula_beside_percent"]] == [pytest.approx(50)]
    away = a_case(BOY, f"12 d: plan every feed; 12.5 d: plan not now; {day(14, 30)}", "15 d")
    assert "formula_share_percent" in review_formula_day(away, PARAMETERS, NEED).measures


def test_where_a_clinic_asks_for_longer_than_a_day_one_day_says_nothing():
    own = parameters_of(CONTENT.with_overrides({"known_intake.window_h": 36}, force=True))
    case = a_case(BOY, day(14, 30), "15 d")
    assert review_formula_day(case, own, NEED).measures == {}
    assert review_formula_day(case, PARAMETERS, NEED).measures
