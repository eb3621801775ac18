"""Whether the weight rises, falls after a rise, and comes back to birth weight."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from conditions import evaluate
from spoken import text
from suffice.assess.review.result import Reviewed
from suffice.assess.review.rising import review_course
from suffice.assess.rules.table import Facts
from suffice.assess.rules.truth import Truth
from suffice.inference.evidence import Scale
from suffice.knowledge.store import load
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


FALL = "72 h: 3200 g; 10 d: 3600 g; 14 d: 3510 g"


def test_a_fall_after_a_rise_is_more_than_weighing_errs():
    """82 g is 90 % of the error of a difference of two weights, SD 50 g."""
    assert values(reviewed(FALL))["fall_after_rise_g"] == [90.0]
    less = reviewed("72 h: 3200 g; 10 d: 3600 g; 14 d: 3530 g", asked_at="14.1 d")
    (row,) = (one for one in load().flags if one.code == "fall-after-rise")
    for review, truth in ((less, Truth.FALSE), (reviewed(FALL, asked_at="14.1 d"), Truth.TRUE)):
        facts = Facts(measures=review.measures, signs=review.signs, age_h=14.1 * 24)
        assert evaluate(row.when, facts, load()).truth is truth
    answered = reviewed("72 h: 3200 g; 10 d: 3600 g; 14 d: 3510 g; 14.1 d: answer physician")
    assert "fall_after_rise_g" not in values(answered)


def test_a_fall_from_the_highest_weight_is_a_share_of_that_weight():
    review = reviewed("72 h: 3300 g; 110 h: 3201 g", "boy, 39+0, vaginal")
    assert values(review)["fall_from_highest_percent"] == [3.0]


def test_a_weight_that_does_not_rise_says_from_what_to_what_and_in_how_long():
    (found,) = reviewed("72 h: 3300 g; 120 h: 3200 g").measures["not_rising_loss_percent"]
    said = text(dict(found.gaps)["course"]).replace("\N{NO-BREAK SPACE}", " ")
    assert said == "Losing 50 g a day at 5 days: 3300 g to 3200 g in 48 h"


def test_the_same_weight_again_is_no_fall():
    assert "fall_after_rise_g" not in values(reviewed("72 h: 3200 g; 120 h: 3300 g; 150 h: 3300 g"))
    assert "fall_after_rise_g" in values(reviewed("72 h: 3200 g; 120 h: 3300 g; 150 h: 3299 g"))


def test_of_several_falls_the_one_that_weighing_explains_least_is_put_before_the_table():
    """The last is ten grams more, and read off a scale that shows 200 g steps: it may be none."""

    def fall_g(scale: str) -> list[float]:
        seen = (
            f"72 h: 3200 g on a; 120 h: 3400 g on a; 150 h: 3300 g on a; 160 h: 3290 g on {scale}"
        )
        case = a_case(BOY, seen, "40 d")
        scales = (Scale(name="a", resolution_g=5.0), Scale(name="coarse", resolution_g=200.0))
        policy = replace(case.policy, scales=scales)
        return values(review_course(replace(case, policy=policy), PARAMETERS))["fall_after_rise_g"]

    assert fall_g("a") == [110.0]
    assert fall_g("coarse") == [100.0]
