"""Falls after a rise: beyond what weighing errs, however often an infant was weighed."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from spoken import text
from suffice.assess.review.course import course_of
from suffice.assess.review.falling import review_fall
from suffice.assess.review.result import Reviewed, together
from suffice.inference.evidence import Scale
from unit.assess.review.reviewed import PARAMETERS, a_case, values

BOY = "boy, 39+0, 3500 g, vaginal"
RISEN = "72 h: 3200 g; 10 d: 3600 g; 19 d: 3920 g; 20 d: 4000 g"


def reviewed(seen: str, asked_at: str = "21.1 d") -> Reviewed:
    return together(review_fall(course_of(a_case(BOY, seen, asked_at), PARAMETERS)))


def falls(seen: str, asked_at: str = "21.1 d") -> dict[str, list[float]]:
    found = values(reviewed(seen, asked_at))
    return {name: value for name, value in found.items() if "fall_" in name and "_g" in name}


def test_a_fall_is_counted_from_the_highest_weight_since_the_lowest():
    assert falls(f"{RISEN}; 21 d: 3890 g") == {"fall_after_rise_g": [110.0]}
    assert falls(f"{RISEN}; 21 d: 4000 g") == {}
    assert falls(f"{RISEN}; 21 d: 3999 g") == {"fall_after_rise_g": [1.0]}


def test_what_a_physician_has_answered_or_a_later_weight_made_good_is_none():
    assert falls(f"{RISEN}; 21 d: 3890 g; 505 h: answer physician") == {}
    assert falls(f"{RISEN}; 21 d: 3890 g; 508 h: 4000 g", "22 d") == {}


def test_a_weight_that_is_taken_again_within_a_day_counts_as_the_mean_of_both():
    assert falls(f"{RISEN}; 21 d: 3890 g; 508 h: 3950 g", "22 d") == {
        "fall_after_rise_g": [80.0],
        "fall_seen_again_g": [80.0],
    }


def test_nobody_having_taken_it_again_in_a_day_it_counts_as_seen_again():
    seen = f"{RISEN}; 21 d: 3890 g"
    assert "fall_seen_again_g" not in falls(seen, "22 d")
    assert falls(seen, "22.01 d")["fall_seen_again_g"] == [110.0]


@pytest.mark.parametrize(
    ("weights", "fall_g"),
    [
        ("480 h: 4000 g; 486 h: 3940 g; 492 h: 3950 g", 3970 - 3900),
        ("480 h: 4000 g; 493 h: 3950 g", 4000 - 3900),
    ],
    ids=["of one day", "more than half a day apart"],
)
def test_what_was_there_before_is_the_mean_of_the_weights_of_a_day(weights, fall_g):
    """The highest of many weights is high by chance: 3970 is the mean of 4000 and the nearest, 3940."""
    seen = f"72 h: 3200 g; 10 d: 3600 g; {weights}; 22 d: 3900 g"
    assert falls(seen, "22.1 d")["fall_after_rise_g"] == [fall_g]


def test_a_mean_is_called_one_so_that_nobody_looks_for_such_a_weight():
    seen = "72 h: 3200 g; 10 d: 3600 g; 480 h: 4000 g; 486 h: 3960 g; 22 d: 3800 g"
    (found,) = reviewed(seen, "22.1 d").measures["fall_after_rise_g"]
    assert text(dict(found.gaps)["first"]).startswith("3980")
    assert "mean of 2" in text(dict(found.gaps)["first"])


def test_a_fall_over_three_days_is_told_apart_and_so_is_one_past_six_months():
    assert falls("72 h: 3200 g; 10 d: 3600 g; 20 d: 4000 g; 23 d: 3930 g", "23.1 d") == {
        "fall_after_rise_g": [70.0],
        "long_fall_after_rise_g": [70.0],
    }
    older = "72 h: 3200 g; 180 d: 7300 g; 210 d: 7700 g; 212 d: 7400 g"
    assert falls(older, "212.1 d")["older_fall_after_rise_g"] == [300.0]


def test_a_greater_fall_past_six_months_hides_none_of_before():
    seen = "72 h: 3200 g; 150 d: 6900 g; 181 d: 7300 g; 182 d: 6980 g; 185 d: 6900 g"
    found = falls(seen, "185.1 d")
    assert found["fall_after_rise_g"] == [320.0]
    assert found["older_fall_after_rise_g"] == [400.0]


def test_before_day_six_no_fall_is_asked_and_days_six_and_seven_are_told_apart():
    early = "72 h: 3300 g; 100 h: 3600 g"
    assert falls(f"{early}; 118 h: 3400 g", "119 h") == {}
    assert falls(f"{early}; 130 h: 3400 g", "131 h") == {"early_fall_after_rise_g": [200.0]}
    assert falls(f"{early}; 150 h: 3400 g", "151 h") == {"seen_early_fall_after_rise_g": [200.0]}


def test_of_several_falls_the_one_that_weighing_explains_least_is_put_before_the_table():
    """The last is ten grams more, and read off a scale that shows 200 g steps: it may be none."""

    def fall_g(scale: str) -> float:
        seen = f"{RISEN} on a; 21 d: 3880 g on a; 23 d: 3870 g on {scale}"
        case = a_case(BOY, seen, "24 d")
        scales = (Scale(name="a", resolution_g=5.0), Scale(name="coarse", resolution_g=200.0))
        policy = replace(case.policy, scales=scales)
        course = course_of(replace(case, policy=policy), PARAMETERS)
        (found,) = values(together(review_fall(course)))["fall_after_rise_g"]
        return found

    assert fall_g("a") == 130.0
    assert fall_g("coarse") == 120.0
