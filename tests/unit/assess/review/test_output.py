"""Wets and stools of one infant, as figures, measures and signs.

Published at the norms: a checklist of the Scottish Government (3 wets on days 3 and 4, 5 on days 5 and
6, 6 to day 28; 2 stools from day 3), as the content has them.
"""

from __future__ import annotations

import pytest

from suffice.assess.review.output import Gained, review_output
from suffice.assess.review.output_count import DIFFERS, counted_words
from suffice.assess.rules.table import Measure
from suffice.clinical.working import Figure, Working
from suffice.message import Instant, Number
from unit.assess.review.reviewed import PARAMETERS, a_case, absent, instant, present, values

GIRL = "girl, 39+0, 3400 g, vaginal"


def a_gain(g_per_day, low=None):
    figure = Figure(value=g_per_day, unit="g/d", low=low, working=Working(formula="as given"))
    return Gained(has_risen=True, since_lowest=figure)


def a_month(fraction, age_h):
    figure = Figure(value=fraction, unit="1", working=Working(formula="as given"))
    return Gained(has_risen=True, months=(Measure(value=fraction, age_h=age_h, figure=figure),))


def reviewed(seen, asked_at, infant=GIRL, gained=None):
    return review_output(a_case(infant, seen, asked_at), PARAMETERS, gained or Gained())


def test_a_full_count_is_a_measure_of_the_age_at_which_it_ends():
    review = reviewed("92 h: 2 wets in 24 h", "93 h")
    (wets,) = review.measures["wets_count_per_day"]
    assert (wets.value, wets.age_h, wets.at) == (2.0, 92.0, instant("92 h"))
    assert dict(wets.gaps) == {
        "counted": counted_words("wet", 2),
        "day": 4,
        "norm": Number(3.0, 0),
    }
    assert review.figures["wets_24h"].high == 2.0


def test_single_diapers_are_no_measure_for_more_may_have_come():
    review = reviewed("90 h: wet; 92 h: wet", "93 h")
    assert values(review) == {}
    assert (review.figures["wets_24h"].low, review.figures["wets_24h"].high) == (2.0, None)


@pytest.mark.parametrize("asked_at", ["40 h", "54 h", "60 h", "30 d"])
def test_a_count_that_was_too_low_is_asked_however_old_it_is(asked_at):
    review = reviewed("40 h: 0 wets in 24 h", asked_at)
    assert values(review)["wets_count_per_day"] == [0.0]


def test_of_each_stretch_of_ages_the_lowest_day_counts():
    review = reviewed("46 h: 0 wets in 24 h; 92 h: 1 wets in 24 h; 30 d: 3 wets in 24 h", "31 d")
    assert values(review)["wets_count_per_day"] == [0.0, 1.0, 3.0]
    assert [round(one) for one in values(review)["wets_of_norm_percent"]] == [33]


@pytest.mark.parametrize(
    ("seen", "lowest"),
    [
        ("92 h: 1 wets in 24 h; 116 h: 4 wets in 24 h", 1.0),
        ("92 h: 2 wets in 24 h; 116 h: 2 wets in 24 h", 2.0),
        ("92 h: 1 wets in 24 h; 116 h: 5 wets in 24 h", 5.0),
        ("92 h: 1 wets in 24 h; 116 h: 5 wets in 24 h; 140 h: 4 wets in 24 h", 4.0),
        ("92 h: 1 wets in 24 h; 95 h: answer physician; 116 h: 4 wets in 24 h", 4.0),
        ("92 h: 1 wets in 24 h; 95 h: answer midwife; 116 h: 4 wets in 24 h", 1.0),
    ],
)
def test_of_several_days_the_lowest_counts_since_one_held_enough_or_was_answered(seen, lowest):
    assert values(reviewed(seen, "141 h"))["wets_count_per_day"] == [lowest]


def test_the_share_of_the_norm_is_that_of_the_day_and_names_it():
    (share,) = reviewed("116 h: 2 wets in 24 h", "117 h").measures["wets_of_norm_percent"]
    assert (share.value, share.unit) == (40.0, "%")
    assert [one.value for one in share.figure.working.constants] == [5.0]


@pytest.mark.parametrize(
    ("seen", "gained", "makes_up"),
    [
        ("92 h: 2 wets in 24 h; 120 h: 3300 g", a_gain(30.0), True),
        ("92 h: 2 wets in 24 h; 120 h: 3300 g", a_gain(30.0, low=1.0), True),
        ("92 h: 2 wets in 24 h; 120 h: 3300 g", a_gain(30.0, low=-1.0), False),
        ("92 h: 2 wets in 24 h; 120 h: 3300 g", a_gain(29.9), False),
        ("92 h: 2 wets in 24 h; 120 h: 3300 g", Gained(), False),
        ("92 h: 2 wets in 24 h; 92 h: 3300 g", a_gain(30.0), False),
        ("92 h: 2 wets in 24 h; 120 h: 3300 g clothed", a_gain(30.0), False),
        ("92 h: 2 wets in 24 h; 120 h: 3300 g", a_month(0.25, 120.0), True),
        ("92 h: 2 wets in 24 h; 120 h: 3300 g", a_month(0.24, 120.0), False),
        ("92 h: 2 wets in 24 h; 120 h: 3300 g", a_month(0.25, 92.0), False),
    ],
)
def test_a_strong_gain_makes_up_for_a_count_where_it_was_weighed_after_it(seen, gained, makes_up):
    review = reviewed(seen, "121 h", gained=gained)
    assert ("wets_count_per_day" not in review.measures) is makes_up
    assert "wets_of_norm_percent" in review.measures


@pytest.mark.parametrize(("more", "makes_up"), [("; 95 h: yellow stool", True), ("", False)])
def test_for_a_day_without_a_stool_one_must_come_too(more, makes_up):
    seen = f"92 h: 0 stools in 24 h; 120 h: 3300 g{more}"
    review = reviewed(seen, "121 h", gained=a_gain(40.0))
    assert ("stools_count_per_day" not in review.measures) is makes_up


def test_possible_diapers_beyond_the_certain_ones_are_said_as_at_most():
    review = reviewed("84 h: 3 wets in 16 h; 92 h: 4 wets in 16 h", "92 h")
    (wets,) = review.measures["wets_count_per_day"]
    assert str(dict(wets.gaps)["counted"]) == "At most 7 wets"


@pytest.mark.parametrize(
    ("seen", "few"),
    [
        ("8 d: 3 wets in 18 h", True),
        ("8 d: 3 wets in 20 h", True),
        ("8 d: 4 wets in 18 h", False),
        ("8 d: 3 wets in 17 h", False),
        ("8 d: 3 wets in 24 h", False),
        ("8 d: 3 wets in 18 h; 8 d: answer physician", False),
        ("8 d: wet", False),
    ],
)
def test_most_of_a_day_is_judged_by_that_part_of_the_norm(seen, few):
    assert ("few_wets_in_part" in present(reviewed(seen, "8.1 d"))) is few


@pytest.mark.parametrize(
    ("seen", "asked_at", "there"),
    [
        ("24 h: 0 wets in 24 h", "24 h", {"no_wet_since_birth", "no_wet_in_shorter_time",
                                          "no_wet_in_longer_time", "no_wet_in_longest_time"}),
        ("48 h: 0 wets in 48 h; 49 h: wet", "60 h", {"no_wet_by_the_later_age"}),
        ("60 h: 0 wets in 8 h", "60 h", {"no_wet_in_shorter_time"}),
        ("60 h: 0 wets in 8 h; 64 h: 0 wets in 2 h", "64 h", {"no_wet_in_shorter_time"}),
        ("60 h: 0 wets in 12 h", "90 h", {"no_wet_in_shorter_time", "no_wet_in_longer_time"}),
        ("60 h: 0 wets in 12 h; 61 h: wet", "90 h", set()),
        ("60 h: 0 wets in 12 h; 61 h: answer physician", "90 h", set()),
        ("60 h: 0 wets in 24 h; 61 h: wet", "90 h", {"dry_day"}),
        ("60 h: 0 wets in 24 h; 61 h: wet; 62 h: answer physician", "90 h", {"dry_day"}),
        ("60 h: 0 wets in 24 h; 62 h: answer physician; 86 h: 3 wets in 24 h", "90 h", set()),
        ("60 h: 1 wets in 8 h", "60 h", set()),
        ("60 h: wet", "60 h", set()),
    ],
)  # fmt: skip
def test_a_lack_of_wets_is_a_sign_until_what_ends_it(seen, asked_at, there):
    found = present(reviewed(f"{seen}; 12 h: 3300 g", asked_at))
    assert {one for one in found if one.startswith(("no_wet", "dry"))} == there


@pytest.mark.parametrize(
    ("seen", "there"),
    [
        (
            "60 h: 0 stools in 60 h",
            {"no_stool_since_birth", "no_stool_by_the_later_age", "no_stool_in_two_days"},
        ),
        ("60 h: 0 stools in 60 h; 61 h: black stool", {"no_stool_by_the_later_age"}),
        ("60 h: 0 stools in 60 h; 61 h: answer hospital", set()),
        ("47 h: 0 stools in 47 h", {"no_stool_since_birth"}),
        ("60 h: 0 stools in 23 h", set()),
        ("60 h: 0 stools in 24 h", {"no_stool_known"}),
        ("20 h: black stool; 60 h: 0 stools in 24 h", set()),
        ("60 h: 0 stools in 24 h; 61 h: black stool", set()),
        ("60 h: 0 stools in 24 h; 61 h: answer physician", set()),
        ("50 d: 0 stools in 47 h", {"no_stool_known"}),
        ("3 d: black stool; 50 d: 0 stools in 47 h", set()),
        ("3 d: black stool; 50 d: 0 stools in 48 h", {"no_stool_in_two_days"}),
        (
            "3 d: black stool; 50 d: 0 stools in 168 h",
            {"no_stool_in_two_days", "no_stool_in_a_week"},
        ),
    ],
)
def test_a_lack_of_stools_is_a_sign_until_what_ends_it(seen, there):
    found = present(reviewed(seen, "50 d"))
    assert {one for one in found if one.startswith("no_stool")} == there


@pytest.mark.parametrize(
    ("seen", "formula"),
    [
        ("60 h: 60 mL formula", True),
        ("60 h: 60 mL formula; 61 h: feed", False),
        ("60 h: wet", False),
    ],
)
def test_only_formula_is_said_where_no_other_milk_is_known(seen, formula):
    assert ("formula_only" in present(reviewed(seen, "62 h"))) is formula


@pytest.mark.parametrize(
    ("seen", "missing"),
    [
        ("40 h: 3300 g", False),
        ("39 h: 3300 g", True),
        ("80 h: 3300 g clothed", True),
        ("80 h: wet", True),
    ],
)
def test_a_weight_is_missed_once_it_is_older_than_a_weight_of_the_first_week_stands(seen, missing):
    assert ("no_weight_lately" in present(reviewed(seen, "88 h"))) is missing


def test_without_an_instant_of_birth_nothing_is_asked():
    review = reviewed("60 h: 0 wets in 24 h", "60 h", infant="nobody knows")
    assert (review.measures, review.signs) == ({}, {})
    assert set(review.not_computed) == {"wets_24h", "stools_24h"}


def test_past_the_ages_of_the_norm_it_says_so():
    review = reviewed("800 d: 0 stools in 24 h", "800 d")
    assert "stools_24h_expected" in review.not_computed
    assert values(review)["stools_count_per_day"] == [0.0]


def test_a_count_of_none_stays_beside_a_diaper_noted_in_those_hours_and_says_that_they_differ():
    review = reviewed("80 h: wet; 88 h: wet; 92 h: 0 wets in 24 h", "93 h")
    differs = DIFFERS["wet"].with_params(at=Instant(instant("88 h")))
    (wets,) = review.measures["wets_count_per_day"]
    assert (wets.value, wets.says) == (0.0, (differs,))
    (dry,) = review.signs["dry_day"]
    assert (dry.degree, dry.says) == (24.0, (differs,))


def test_a_diaper_noted_before_the_hours_of_a_count_of_none_differs_from_nothing():
    review = reviewed("80 h: wet; 92 h: 0 wets in 12 h; 93 h: 1 wets in 24 h", "93 h")
    (wets,) = review.measures["wets_count_per_day"]
    assert (wets.value, wets.says) == (1.0, ())


def test_the_page_shows_the_diaper_that_a_count_of_none_denies():
    review = reviewed("80 h: wet; 92 h: 0 wets in 24 h", "92 h")
    assert review.figures["wets_24h"].low == 1.0


def test_a_gain_over_a_month_says_that_fewer_wets_of_an_older_infant_were_enough():
    """Of a younger one a day that held enough is said, whatever the gain."""
    older = reviewed("40 d: 6 wets in 24 h", "41 d", gained=a_month(0.25, 41 * 24.0))
    assert "wets_count_per_day" not in older.measures
    assert "few_wets_and_thriving" not in older.signs
    slow = reviewed("40 d: 6 wets in 24 h", "41 d", gained=a_month(0.24, 41 * 24.0))
    assert values(slow)["wets_count_per_day"] == [6.0]
    young = reviewed("20 d: 6 wets in 24 h", "21 d", gained=a_month(0.25, 21 * 24.0))
    assert values(young)["wets_count_per_day"] == [6.0]


def test_before_the_first_day_is_over_no_count_is_that_of_a_day():
    assert values(reviewed("23 h: 0 wets in 23 h; 23 h: 0 stools in 23 h", "23.5 h")) == {}
    assert values(reviewed("24 h: 0 wets in 24 h", "24 h")) == {
        "wets_count_per_day": [0.0],
        "wets_to_look_at_percent": [0.0],
    }


@pytest.mark.parametrize(
    ("counted_d", "weighed_d", "is_thriving"),
    [(60, 45, False), (60, 47, True), (100, 71, False), (100, 73, True)],
)
def test_a_good_month_speaks_for_few_wets_as_long_as_a_weight_of_that_age_stands(
    counted_d, weighed_d, is_thriving
):
    """Two weeks in the first three months, four after them."""
    gained = a_month(0.5, weighed_d * 24.0)
    review = reviewed(f"{counted_d} d: 2 wets in 24 h", f"{counted_d} d", gained=gained)
    assert ("few_wets_and_thriving" in present(review)) is is_thriving


@pytest.mark.parametrize("gained", [Gained(), Gained(has_risen=True), a_gain(29.9)])
def test_of_no_strong_gain_it_is_known_that_it_speaks_for_nothing(gained):
    """Were it not known, few wets and urates would be told of nobody."""
    few = reviewed("40 d: 3 wets in 24 h; 40 d: 4000 g", "40 d", gained=gained)
    assert "few_wets_and_thriving" in absent(few)
    seen = "10 d: 6 wets in 24 h; 10 d: wet with urates; 10 d: 3600 g"
    assert "urates_and_thriving" in absent(reviewed(seen, "10 d", gained=gained))


@pytest.mark.parametrize("asked_at", ["240 h", "263 h", "265 h", "30 d"])
@pytest.mark.parametrize(("wets", "is_enough"), [(6, True), (4, False)])
def test_urates_beside_enough_wets_and_a_good_gain_stay_so_however_late_it_is_asked(
    asked_at, wets, is_enough
):
    """The norm of day 10 is six: those written down one by one count as a count of the day does."""
    single = "; ".join(f"{240 - 3 * one} h: wet" for one in range(1, wets))
    seen = f"{single}; 240 h: wet with urates"
    review = reviewed(f"{seen}; 239 h: 3600 g", asked_at, gained=a_gain(40.0))
    assert ("urates_and_thriving" in present(review)) is is_enough
