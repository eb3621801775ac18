"""The latest weight against those too near to judge a gain by: what is surely slow all the same.

Expected upper ends by hand: (grams + 1.645 x 50 g) / days, with the 35 g of one weight and the step of 5 g.
"""

from __future__ import annotations

import random

import pytest

from spoken import in_sentences
from suffice.assess.review.gain import course_of
from suffice.assess.review.gain_lately import review_lately
from suffice.assess.review.result import together
from suffice.assess.review.weight import usable
from suffice.clinical.working import Figure, Working
from suffice.message import message
from unit.assess.review.reviewed import PARAMETERS, a_case

GIRL = "girl, 39+0, 3400 g, vaginal"


def lately(seen, asked_at, corrected=None, infant=GIRL):
    case = a_case(infant, seen, asked_at)
    course = course_of(case, usable(case), PARAMETERS, corrected)
    return together(review_lately(course)).measures.get("lately_gain_fraction", ())


@pytest.mark.parametrize(
    ("grams", "is_sure"), [(3850, True), (3880, True), (3885, False), (3950, False)]
)
def test_three_days_at_three_weeks_are_surely_low_below_the_line(grams, is_sure):
    (found,) = lately(f"18 d: 3900 g; 21 d: {grams} g", "21.1 d")
    least = PARAMETERS.gain_line.look_fraction.value
    assert (found.figure.high < least) is is_sure
    assert found.figure.value <= found.figure.high


def test_one_day_is_noise():
    (found,) = lately("20 d: 3900 g; 21 d: 3850 g", "21.1 d")
    assert found.figure.high > 0.05


def test_of_several_nearer_weights_the_slowest_counts():
    (found,) = lately("18 d: 3900 g; 21 d: 3850 g; 22 d: 3860 g", "22.1 d")
    first = dict(found.gaps)["gain"].params
    assert "3900" in str(first)
    assert "3860" in str(first)


def test_nothing_is_said_where_no_weight_is_nearer_than_that_of_the_gain():
    assert lately("21 d: 3850 g", "21.1 d") == ()
    assert lately("21 d: 3900 g; 21.5 d: 3800 g", "21.6 d") == ()


def test_nothing_is_said_before_term_age():
    young = Figure(value=-4.0, unit="d", working=Working(formula=message("age from term")))
    early = "girl, 36+0, 2800 g, vaginal"
    assert lately("14 d: 3000 g; 17 d: 2950 g", "17.1 d", young, early) == ()
    assert lately("14 d: 3000 g; 17 d: 2950 g", "17.1 d", None, early)


def test_the_weights_of_a_day_count_as_their_mean():
    # The last day, and the one that ends 72 hours before the latest weight.
    seen = "17.6 d: 3900 g; 18 d: 3880 g; 20.6 d: 3850 g; 21 d: 3830 g"
    (found,) = lately(seen, "21.1 d")
    gain = in_sentences([dict(found.gaps)["gain"]])
    assert "3890 g (mean of 2)" in gain
    assert "3840 g (mean of 2)" in gain
    (single,) = lately("17.8 d: 3890 g; 20.8 d: 3840 g", "21.1 d")
    assert found.figure.value == pytest.approx(single.figure.value)


def test_many_weights_of_a_healthy_week_alarm_no_more_often_than_one_a_day():
    """32 g a day with 35 g of noise: of 60 weeks those with a day that is surely low against the last."""
    least = PARAMETERS.gain_line.look_fraction.value

    def alarms(a_day):
        chance = random.Random(11)
        weeks = 0
        for _ in range(60):
            hours = [15 * 24 + 24 * step / a_day for step in range(7 * a_day + 1)]
            weights = [(hour, 3600 + 32 * (hour / 24 - 15) + chance.gauss(0, 35)) for hour in hours]
            seen = "; ".join(f"{hour:g} h: {grams:.0f} g" for hour, grams in weights)
            found = lately(seen, f"{hours[-1] + 1:g} h")
            weeks += bool(found) and found[0].figure.high < least
        return weeks

    assert max(alarms(2), alarms(4)) <= min(alarms(1), 1)


def test_a_week_without_gain_is_surely_low_however_many_weights_show_it():
    least = PARAMETERS.gain_line.look_fraction.value
    for a_day in (1, 3):
        hours = [18 * 24 + 24 * step / a_day for step in range(4 * a_day + 1)]
        seen = "; ".join(f"{hour:g} h: {3900 - 15 * (hour / 24 - 18):.0f} g" for hour in hours)
        (found,) = lately(f"14 d: 3700 g; {seen}", f"{hours[-1] + 1:g} h")
        assert found.figure.high < least
