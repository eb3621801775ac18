"""Gains over about a month: one slow, two running, a loss, and a drop.

WHO velocity (2009), boys: 15th centile 26.9 g/day from day 28 to 61, 19.2 to 91, 13.0 to 122; 25th 15.4.
"""

from __future__ import annotations

from suffice.assess.review.gain import course_of
from suffice.assess.review.gain_month import review_months
from suffice.assess.review.result import together
from suffice.assess.review.weight import usable
from unit.assess.review.reviewed import PARAMETERS, a_case, present

SLOW_TWICE = "30 d: 4500 g; 60 d: 5220 g; 90 d: 5730 g"


def reviewed(seen, asked_at):
    case = a_case("boy, 39+0, vaginal", seen, asked_at)
    return together(review_months(course_of(case, usable(case), PARAMETERS, None)))


def test_a_month_is_told_and_two_slow_ones_running_are_a_sign():
    one = reviewed("30 d: 4500 g; 60 d: 5220 g", "61 d")
    assert 0.05 < one.measures["month_gain_fraction"][0].value < 0.15
    assert "two_slow_months" not in present(one)
    assert "two_slow_months" in present(reviewed(SLOW_TWICE, "91 d"))


def test_only_a_good_month_ends_two_slow_ones():
    assert "two_slow_months" in present(reviewed(f"{SLOW_TWICE}; 120 d: 6150 g", "121 d"))
    assert "two_slow_months" not in present(reviewed(f"{SLOW_TWICE}; 120 d: 6230 g", "121 d"))


def test_no_month_begins_before_the_lines_do():
    assert reviewed("5 d: 3400 g; 35 d: 4000 g", "36 d").measures == {}


def test_a_loss_of_an_older_infant_is_measured_over_a_month_at_least():
    short = reviewed("200 d: 8000 g; 227 d: 7900 g", "228 d")
    assert "gain_over_a_month_g_per_day" not in short.measures
    (found,) = reviewed("200 d: 8000 g; 228 d: 7860 g", "229 d").measures[
        "gain_over_a_month_g_per_day"
    ]
    assert found.value == -5.0


def test_a_gain_that_fell_by_more_than_weighing_errs_is_a_drop():
    dropped = reviewed("14 d: 3700 g on w; 35 d: 4540 g on w; 56 d: 4918 g on w", "57 d")
    assert "gain_has_dropped" in present(dropped)
    (sign,) = dropped.signs["gain_has_dropped"]
    assert sign.age_h == 56 * 24
    usual = reviewed("14 d: 3700 g on w; 42 d: 4820 g on w; 84 d: 6000 g on w", "85 d")
    assert "gain_has_dropped" not in present(usual)


def test_a_drop_is_sure_where_it_is_slow_with_all_of_its_interval_or_very_low():
    # A boy of month 2: the 15th centile is 26.9 g a day, the 5th 21.6, the interval 2.7 over 28 days.
    def dropped(last_g):
        return present(
            reviewed(f"14 d: 3700 g on w; 28 d: 4330 g on w; 56 d: {last_g} g on w", "57 d")
        )

    names = {"gain_has_dropped", "gain_has_surely_dropped"}
    assert dropped(4330 + 28 * 27) & names == set()
    assert dropped(4330 + 28 * 26) & names == {"gain_has_dropped"}
    assert dropped(4330 + 28 * 23) & names == names


def test_of_several_losses_of_an_older_infant_the_worst_is_told():
    def loss(seen):
        (found,) = reviewed(seen, "257 d").measures["gain_over_a_month_g_per_day"]
        return found.value

    assert loss("200 d: 8000 g; 228 d: 7972 g; 256 d: 7832 g") == -5.0
    assert loss("200 d: 8000 g; 228 d: 7860 g; 256 d: 7832 g") == -5.0
