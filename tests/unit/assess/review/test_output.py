"""Wets and stools of one infant, as figures, measures and signs."""

from __future__ import annotations

import pytest

from suffice.assess.review.output import counted_words, review_output
from unit.assess.review.reviewed import (
    PARAMETERS,
    a_case,
    absent,
    instant,
    present,
    values,
)

GIRL = "girl, 39+0, 3400 g, vaginal"


def reviewed(seen, asked_at, infant=GIRL, *, weight_has_risen=False):
    case = a_case(infant, seen, asked_at)
    return review_output(case, PARAMETERS, weight_has_risen=weight_has_risen)


def test_a_full_count_is_a_measure_of_the_age_at_which_it_ends():
    review = reviewed("92 h: 2 wets in 24 h", "93 h")
    (wets,) = review.measures["wets_count_per_day"]
    assert (wets.value, wets.age_h, wets.at) == (2.0, 92.0, instant("92 h"))
    assert dict(wets.gaps) == {"counted": counted_words("wet", 2), "day": 4}
    assert review.figures["wets_24h"].high == 2.0


def test_single_diapers_are_no_measure_for_more_may_have_come():
    review = reviewed("90 h: wet; 92 h: wet", "93 h")
    assert values(review) == {}
    assert (review.figures["wets_24h"].low, review.figures["wets_24h"].high) == (2.0, None)


def test_an_old_count_is_asked_under_its_own_name_with_whether_weight_has_risen():
    old = reviewed("40 h: 0 wets in 24 h", "60 h")
    assert values(old) == {"old_wets_count_per_day": [0.0]}
    assert "weight_risen_since_wets" in absent(old)
    fresh = reviewed("40 h: 0 wets in 24 h", "52 h")
    assert values(fresh) == {"wets_count_per_day": [0.0]}


@pytest.mark.parametrize(
    ("seen", "weight_has_risen", "since_then"),
    [
        ("40 h: 0 wets in 24 h; 50 h: 3300 g", True, True),
        ("40 h: 0 wets in 24 h; 50 h: 3300 g", False, False),
        ("30 h: 3300 g; 40 h: 0 wets in 24 h", True, False),
    ],
)
def test_weight_has_risen_since_an_old_count_where_the_rise_was_weighed_after_it(
    seen, weight_has_risen, since_then
):
    review = reviewed(seen, "60 h", weight_has_risen=weight_has_risen)
    assert ("weight_risen_since_wets" in present(review)) is since_then
    assert ("weight_risen_since_wets" in absent(review)) is not since_then


def test_possible_diapers_beyond_the_certain_ones_are_said_as_at_most():
    review = reviewed("84 h: 3 wets in 16 h; 92 h: 4 wets in 16 h", "92 h")
    (wets,) = review.measures["wets_count_per_day"]
    assert str(dict(wets.gaps)["counted"]) == "At most 7 wets"


@pytest.mark.parametrize(
    ("seen", "signs"),
    [
        ("60 h: wet with urates", {"urates"}),
        ("60 h: pale stool", {"pale_stool"}),
        ("60 h: red stool", {"red_stool"}),
        ("60 h: black stool", {"black_stool"}),
        ("60 h: yellow stool", set()),
        ("30 h: wet with urates", {"urates"}),
        ("30 h: wet with urates; 40 h: wet", set()),
        ("30 h: pale stool", {"pale_stool"}),
        ("30 h: pale stool; 31 h: yellow stool", set()),
        ("60 h: 0 stools in 24 h", set()),
    ],
)
def test_what_was_seen_in_a_diaper_is_a_sign_while_it_speaks_for_now(seen, signs):
    assert present(reviewed(seen, "61 h")) == signs


def test_of_several_diapers_the_latest_is_the_sign():
    review = reviewed("50 h: wet with urates; 60 h: wet with urates", "61 h")
    (urates,) = review.signs["urates"]
    assert urates.age_h == 60.0
    assert urates.gaps[0][1].at == instant("60 h")


@pytest.mark.parametrize(
    ("seen", "asked_at", "there", "not_there"),
    [
        ("30 h: 0 wets in 30 h", "30 h", {"no_wet_since_birth", "no_wet_in_shorter_time",
                                          "no_wet_in_longer_time"}, set()),
        ("60 h: 0 wets in 8 h", "60 h", {"no_wet_in_shorter_time"}, set()),
        ("60 h: 1 wets in 8 h", "60 h", set(), {"no_wet_in_shorter_time"}),
        ("60 h: 0 stools in 60 h", "60 h", {"no_stool_since_birth"}, set()),
        ("60 h: wet", "60 h", set(), set()),
    ],
)  # fmt: skip
def test_a_lack_of_diapers_is_a_sign_only_where_every_diaper_of_the_time_is_known(
    seen, asked_at, there, not_there
):
    review = reviewed(seen, asked_at)
    assert present(review) == there
    assert absent(review) >= not_there


def test_without_an_instant_of_birth_nothing_is_asked():
    review = reviewed("60 h: 0 wets in 24 h", "60 h", infant="nobody knows")
    assert (review.measures, review.signs) == ({}, {})
    assert set(review.not_computed) == {"wets_24h", "stools_24h"}


def test_past_the_ages_of_the_norm_it_says_so():
    review = reviewed("800 d: 0 stools in 24 h", "800 d")
    assert "stools_24h_expected" in review.not_computed
    assert values(review)["stools_count_per_day"] == [0.0]
