"""Supply or transfer: the two ratios, what leans, and what would tell; tables in tests/spec/problems/intake.md."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.assess.problems.supply import TELLS, supply_or_transfer
from suffice.assess.rules.table import Found
from suffice.knowledge.store import load

CONTENT = load()
SHORT = {"intake": (Found(("short",)),)}


def ratios(there, share, **more):
    numbers = {"available_ratio": there, "taken_share": share, **more}
    return SHORT | {key: (Found(number=one),) for key, one in numbers.items() if one is not None}


@given(st.floats(0, 3), st.floats(0, 1))
def test_between_the_limits_and_only_there_nothing_is_said(there, share):
    """kent_2006: 67 % of what is there is taken, means of infants 43 to 92 %."""
    answer = supply_or_transfer(ratios(there, share), CONTENT).answer
    value = {
        name: CONTENT.constant(f"problem.{name}").value
        for name in ("available_low_ratio", "available_enough_ratio", "taken_low_fraction",
                     "taken_good_fraction")
    }  # fmt: skip
    expected = "cannot tell"
    if share < value["taken_low_fraction"] and there < value["available_low_ratio"]:
        expected = "both"
    elif share < value["taken_low_fraction"] and there >= value["available_enough_ratio"]:
        expected = "transfer"
    elif share >= value["taken_good_fraction"] and there < value["available_low_ratio"]:
        expected = "supply"
    assert answer == expected


@pytest.mark.parametrize("finds", [{}, {"intake": (Found(("enough",)),)}])
def test_it_is_asked_only_where_intake_is_short(finds):
    full = {"available_ratio": (Found(number=0.5),), "taken_share": (Found(number=0.9),)}
    assert supply_or_transfer(finds | full, CONTENT).answer == "not asked"


def test_one_feed_is_not_certain_two_are():
    one = supply_or_transfer(ratios(1.2, 0.3, trusted_feeds=1), CONTENT)
    two = supply_or_transfer(ratios(1.2, 0.3, trusted_feeds=2), CONTENT)
    assert (one.answer, one.is_certain) == ("transfer", False)
    assert (two.answer, two.is_certain, two.would_tell) == ("transfer", True, ())


def test_without_a_scale_it_leans_and_names_what_would_tell():
    finds = SHORT | {
        "before_feed": (Found(("soft",), None, "left"),),
        "after_feed": (Found(("was_soft",), None, "left"),),
    }
    split = supply_or_transfer(finds, CONTENT)
    assert (split.answer, split.leans) == ("cannot tell", "supply")
    assert split.would_tell == tuple(key for key in TELLS if key not in finds)
    assert split.would_tell[0] == "left_after_ml"


def test_who_takes_enough_lacks_neither_milk_nor_a_way_to_it():
    split = supply_or_transfer(ratios(0.5, 0.5, intake_ratio=1.5), CONTENT)
    assert (split.answer, split.rests_on) == ("need or illness", ("intake_ratio",))


@pytest.mark.parametrize(("feeds", "answer"), [(5, "too few feeds"), (12, "cannot tell")])
def test_milk_that_is_there_and_taken_is_offered_too_seldom_where_feeds_are_few(feeds, answer):
    assert supply_or_transfer(ratios(1.5, 0.9, feeds_24h=feeds), CONTENT).answer == answer
