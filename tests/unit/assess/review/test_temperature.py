"""Which temperatures of an infant count, and which are replaced, repeated or last."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.assess.review.result import together
from suffice.assess.review.temperature import STANDS, review_temperature
from unit.assess.review.reviewed import PARAMETERS, a_case, present, values

BOY = "boy, 39+0, 3500 g, vaginal"


def reviewed(seen, asked_at="60 d"):
    return together(review_temperature(a_case(BOY, seen, asked_at), PARAMETERS))


@pytest.mark.parametrize(
    ("seen", "name", "expected"),
    [
        ("60 h: 37.6 °C; 60.5 h: 37.7 °C", "warm_twice_temperature_c", [37.7]),
        ("60 h: 37.6 °C; 60.4 h: 37.7 °C", "warm_twice_temperature_c", []),
        ("60 h: 37.6 °C; 61 h: 37.0 °C; 62 h: 37.7 °C", "warm_twice_temperature_c", []),
        ("60 h: 37.6 °C; 61 h: 37.0 °C ear; 62 h: 37.7 °C", "warm_twice_temperature_c", [37.7]),
        ("60 h: 36.2 °C; 61 h: 36.4 °C", "cool_twice_temperature_c", [36.4]),
        ("60 h: 36.2 °C; 60.9 h: 36.4 °C", "cool_twice_temperature_c", []),
        ("60 h: 36.2 °C; 61 h: 36.4 °C", "still_cool_temperature_c", []),
        ("60 h: 36.4 °C; 61 h: 36.5 °C", "cool_twice_temperature_c", []),
        ("60 h: 35.9 °C; 61 h: 36.4 °C", "still_cool_temperature_c", [36.4]),
        ("60 h: 36.2 °C; 60.5 h: 35.9 °C; 61 h: 36.4 °C", "still_cool_temperature_c", []),
        ("100 d: 38.0 °C; 105 d: 38.0 °C", "fever_lasting_d", [5.0]),
        ("100 d: 38.0 °C; 104.9 d: 38.0 °C", "fever_lasting_d", []),
        ("88 d: 38.0 °C; 94 d: 38.0 °C", "fever_lasting_d", []),
    ],
)
def test_what_lasts(seen, name, expected):
    assert values(reviewed(seen, "110 d")).get(name, []) == expected


def test_a_run_is_judged_at_the_age_at_which_it_began():
    found = reviewed("27.9 d: 37.6 °C; 29 d: 37.7 °C").measures["warm_twice_temperature_c"]
    assert [one.age_h for one in found] == [pytest.approx(27.9 * 24)]


@pytest.mark.parametrize(
    ("seen", "highest", "doubtful"),
    [
        ("20 d: 38.1 °C ear", [38.1], True),
        ("480 h: 37.9 °C ear; 481 h: 37.0 °C", [37.0], False),
        ("480 h: 37.9 °C ear; 481.1 h: 37.0 °C", [37.9], False),
        # No better reading takes a fever back.
        ("480 h: 38.1 °C ear; 480.5 h: 37.0 °C", [38.1], False),
        ("480 h: 38.0 °C ear; 480.5 h: 37.0 °C rectum", [38.0], False),
        ("480 h: 38.1 °C ear; 480.5 h: 37.0 °C forehead", [38.1], True),
        ("480 h: 38.1 °C; 480.5 h: 37.0 °C", [38.1], False),
        ("30 d: 38.1 °C ear; 721 h: 37.0 °C", [38.1], False),
    ],
)
def test_only_a_doubtful_reading_short_of_a_fever_is_replaced_and_only_soon(
    seen, highest, doubtful
):
    review = reviewed(seen)
    assert values(review)["young_highest_temperature_c"] == highest
    assert ("doubtful_site" in present(review)) is doubtful


@pytest.mark.parametrize(
    ("seen", "is_said"),
    [
        ("480 h: 38.1 °C ear; 480.5 h: 37.0 °C", True),
        ("480 h: 38.1 °C ear; 481 h: 36.5 °C rectum", True),
        ("480 h: 38.1 °C ear", False),
        ("480 h: 38.1 °C ear; 481.1 h: 37.0 °C", False),
        ("480 h: 38.1 °C ear; 480.5 h: 37.5 °C", False),
        ("480 h: 38.1 °C ear; 480.5 h: 36.4 °C", False),
        ("480 h: 38.1 °C ear; 480.5 h: 37.0 °C forehead", False),
        ("480 h: 38.1 °C; 480.5 h: 37.0 °C", False),
    ],
)
def test_a_fever_says_that_a_better_reading_soon_after_was_usual(seen, is_said):
    [found] = reviewed(seen).measures["young_highest_temperature_c"]
    assert (STANDS in found.says) is is_said


@pytest.mark.parametrize(
    ("seen", "highest"),
    [
        ("100 d: 38.3 °C strip; 2400.5 h: 37.1 °C", [37.1]),
        ("100 d: 38.3 °C strip; 2401.1 h: 37.1 °C", [38.3]),
    ],
)
def test_past_three_months_a_better_reading_soon_after_replaces_a_fever(seen, highest):
    assert values(reviewed(seen, "101 d"))["middle_highest_temperature_c"] == highest


def test_a_doubtful_usual_reading_is_not_the_latest():
    assert values(reviewed("20 d: 37.7 °C; 482 h: 37.0 °C ear"))["young_last_temperature_c"] == [
        37.7
    ]
    assert "young_last_temperature_c" not in values(reviewed("20 d: 37.0 °C ear"))


readings = st.lists(
    st.tuples(
        st.integers(0, 200),
        st.sampled_from([35.0, 35.9, 36.2, 36.9, 37.6, 38.2]),
        st.sampled_from(["", " ear", " rectum"]),
    ),
    min_size=1,
    max_size=6,
    unique_by=lambda one: one[0],
)


@given(readings)
def test_no_later_reading_of_the_same_site_takes_the_highest_back(taken):
    """A fever counts until a physician has seen it: the ladder's choice between two cohorts."""
    ordered = sorted(one for one in taken if one[2] != " ear")
    seen = [f"{hours} h: {celsius} °C{site}" for hours, celsius, site in ordered]
    highest = 0.0
    for count in range(1, len(seen) + 1):
        found = values(reviewed("; ".join(seen[:count])))["young_highest_temperature_c"][0]
        assert found >= highest
        highest = found
