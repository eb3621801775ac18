"""Whether the weight rises, and comes back to birth weight."""

from __future__ import annotations

import pytest

from spoken import text
from suffice.assess.review.result import Reviewed
from suffice.assess.review.rising import review_course
from unit.assess.review.reviewed import PARAMETERS, a_case, absent, present, values

BOY = "boy, 39+0, 3500 g, vaginal"


def reviewed(seen: str, infant: str = BOY, asked_at: str = "40 d") -> Reviewed:
    return review_course(a_case(infant, seen, asked_at), PARAMETERS)


def test_without_weights_nothing_is_said_and_without_birth_weight_only_the_course():
    assert reviewed("10 h: wet").measures == {}
    review = reviewed("72 h: 3300 g; 110 h: 3280 g", "boy, 39+0, vaginal")
    assert review.measures.keys() == {"fall_from_highest_percent"}
    assert present(review) == {
        "not_rising_birth_weight_unknown",
        "latest_weight_is_lowest",
        "fall_is_seen",
    }


def test_signs_of_the_return_to_birth_weight_are_there_while_it_is_not_reached():
    review = reviewed("72 h: 3200 g; 14 d: 3400 g")
    assert "not_regained" in present(review)
    assert {"regain_within_noise", "gain_since_lowest_unknown"} <= absent(review)
    near = reviewed("72 h: 3200 g; 14 d: 3450 g")
    assert "regain_within_noise" in present(near)
    back = reviewed("72 h: 3200 g; 14 d: 3500 g")
    assert not {"not_regained", "regain_within_noise"} & (present(back) | absent(back))


@pytest.mark.parametrize(
    ("seen", "is_rising"),
    [
        ("72 h: 3300 g; 120 h: 3280 g", False),
        ("72 h: 3300 g; 120 h: 3300 g", False),
        ("72 h: 3300 g; 120 h: 3400 g", True),
        ("118 h: 3300 g; 120 h: 3280 g", True),
    ],
)
def test_a_weight_rises_where_it_is_above_one_half_a_day_or_more_before_it(seen, is_rising):
    """The last case: a second weighing two hours later is no course."""
    lost = values(reviewed(seen, asked_at="121 h"))
    assert ("not_rising_loss_percent" not in lost) is is_rising


def test_a_fall_from_the_highest_weight_is_a_share_of_that_weight():
    review = reviewed("72 h: 3300 g; 110 h: 3201 g", "boy, 39+0, vaginal")
    assert values(review)["fall_from_highest_percent"] == [3.0]


def test_a_weight_that_does_not_rise_says_from_what_to_what_and_in_how_long():
    (found,) = reviewed("72 h: 3300 g; 120 h: 3200 g").measures["not_rising_loss_percent"]
    said = text(dict(found.gaps)["course"]).replace("\N{NO-BREAK SPACE}", " ")
    assert said == "Losing 50 g a day at 5 days: 3300 g to 3200 g in 48 h"
