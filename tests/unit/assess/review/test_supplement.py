"""Whether a supplement was stopped or cut: by the feeds that were written down, never by the clock."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from suffice.assess.review.supplement import review_supplement
from suffice.clinical.entry import Feed
from unit.assess.review.reviewed import PARAMETERS, a_case, absent, instant, present

BOY = "boy, 39+0, 3500 g, vaginal"
BEFORE = "24 d: feed of 120 mL formula; 26 d: feed of 120 mL formula; 28 d: feed of 120 mL formula"


def reviewed(seen, asked_at="35.1 d"):
    return review_supplement(a_case(BOY, seen, asked_at), PARAMETERS)


@pytest.mark.parametrize(
    ("after", "is_cut"),
    [
        ("34 d: feed", True),
        ("33 d: feed of 60 mL formula; 34 d: feed", True),
        ("32 d: feed of 120 mL formula; 33 d: feed of 120 mL formula; 34 d: feed", False),
    ],
)
def test_it_is_cut_where_the_last_days_give_half_or_less(after, is_cut):
    review = reviewed(f"{BEFORE}; {after}")
    assert ("supplement_cut" in present(review)) is is_cut
    assert ("supplement_cut" in absent(review)) is not is_cut


def test_silence_stops_no_supplement():
    for asked_at in ("28.1 d", "35 d", "41 d"):
        assert "supplement_cut" not in present(reviewed(BEFORE, asked_at))


@pytest.mark.parametrize(
    "seen", ["34 d: 4400 g", "34 d: feed", "10 d: feed of 90 mL formula; 34 d: feed"]
)
def test_without_a_supplement_in_two_weeks_nothing_is_told(seen):
    assert reviewed(seen).signs == {}


def test_what_was_given_before_is_the_mean_from_its_first_day_on():
    """360 mL in the 7 days from day 24 to day 31: 51 mL a day, of which 30 are more than half."""
    review = reviewed(f"{BEFORE}; 32 d: feed of 90 mL formula; 34 d: feed")
    (sign,) = review.signs["supplement_cut"]
    assert [one.value for one in sign.working.inputs] == [pytest.approx(360 / 7), 30.0]
    assert "supplement_cut" in absent(review)


@pytest.mark.parametrize(
    ("after", "is_unweighed"),
    [
        ("34 d: 18 feeds in 72 h", True),
        ("34 d: 18 feeds in 72 h; 34 d: 4600 g", False),
        ("34 d: 18 feeds in 72 h; 31 d: 4500 g", True),
        ("34 d: 18 feeds in 72 h; 34 d: 4700 g clothed", True),
        ("34 d: 15 feeds in 72 h", False),
        ("34 d: 18 feeds in 48 h", False),
        ("34 d: 18 feeds in 72 h; 34 d: 3 feeds of 90 mL formula in 72 h", False),
    ],
)
def test_it_is_unweighed_where_each_day_was_written_down_and_no_weight_shows_it(
    after, is_unweighed
):
    found = present(reviewed(f"28 d: 4400 g; {BEFORE}; {after}"))
    assert ("supplement_cut_unweighed" in found) is is_unweighed


def test_a_bottle_of_unknown_size_is_no_supplement_that_was_stopped():
    case = a_case(
        BOY,
        f"28 d: 4400 g; {BEFORE}; 34 d: 18 feeds in 72 h; 33.5 d: feed of 60 mL formula",
        "35 d",
    )
    assert "supplement_cut_unweighed" in present(review_supplement(case, PARAMETERS))
    without = tuple(
        replace(one, fact=replace(one.fact, volume_ml=None))
        if isinstance(one.fact, Feed) and one.true_at == instant("33.5 d")
        else one
        for one in case.entries
    )
    case = replace(case, entries=without)
    assert "supplement_cut_unweighed" not in present(review_supplement(case, PARAMETERS))
