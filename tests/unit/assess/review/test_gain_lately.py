"""The latest weight against those too near to judge a gain by: what is surely slow all the same.

Expected upper ends by hand: (grams + 1.645 x 50 g) / days, with the 35 g of one weight and the step of 5 g.
"""

from __future__ import annotations

import pytest

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
