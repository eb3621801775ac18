"""Weights and test weights: what they cannot be without, and the limits of a test weight."""

from __future__ import annotations

import msgspec
import pytest

from csv_case import facts, table
from entry_limits import codes, found, read
from suffice.clinical.entry.field import Measured, fields_of
from suffice.clinical.entry.weight import TestWeight, Weight


@pytest.mark.parametrize(
    ("transfer_g", "code"),
    [
        (-201, "TEST-006"),
        (-200, "TEST-007"),
        (-21, "TEST-007"),
        (-20, None),
        (0, None),
        (240, None),
        (241, "TEST-007"),
        (500, "TEST-007"),
        (501, "TEST-006"),
    ],
)
def test_the_difference_of_a_test_weight_at_its_limits(transfer_g, code):
    expected = [] if code is None else [(code, "after_g", code == "TEST-007")]
    assert found(TestWeight(before_g=3300, after_g=3300 + transfer_g)) == expected


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (-1, ["DURATION-001"]),
        (90, []),
        (91, ["DURATION-002"]),
        (300, ["DURATION-002"]),
        (301, ["DURATION-001"]),
    ],
)
def test_the_time_between_both_weights_at_its_limits(minutes, expected):
    assert codes(TestWeight(before_g=3300, after_g=3350, minutes=minutes)) == expected


def test_both_weights_of_a_test_weight_are_held_against_the_age():
    both = found(TestWeight(before_g=33000, after_g=33050))
    assert both == [("WEIGHT-001", "before_g", False), ("WEIGHT-001", "after_g", False)]


def test_the_limits_of_a_weight_go_by_age_and_are_declared_nowhere_else():
    for kind, names in ((Weight, ["weight_g"]), (TestWeight, ["before_g", "after_g"])):
        for name in names:
            field = fields_of(kind)[name]
            assert isinstance(field, Measured)
            assert (field.quantity, field.limits) == ("weight", None)


def test_what_was_not_said_of_a_weight_is_not_known():
    assert (Weight(weight_g=3200).clothing, Weight(weight_g=3200).feed_state) == (None, None)
    test = TestWeight(before_g=3300, after_g=3350)
    assert (test.minutes, test.same_clothes, test.side) == (None, None, None)


@pytest.mark.parametrize("clothing", ["naked", "dry diaper", "clothed"])
@pytest.mark.parametrize("state", ["before feed", "after feed"])
def test_every_way_of_weighing_is_taken(clothing, state):
    fields = {"weight_g": 3200.0, "clothing": clothing, "feed_state": state}
    assert read(kind="weight", **fields) == Weight(**fields)


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "weight"},
        {"kind": "weight", "weight_kg": 3.2},
        {"kind": "weight", "weight_g": "3.2 kg"},
        {"kind": "weight", "weight_g": 3200, "clothing": "hat"},
        {"kind": "weight", "weight_g": 3200, "feed_state": "during feed"},
        {"kind": "test weight", "before_g": 3300},
        {"kind": "test weight", "after_g": 3300},
    ],
)
def test_what_is_no_weight_is_refused(fields):
    with pytest.raises(msgspec.ValidationError):
        read(**fields)


def test_a_table_tells_before_from_after():
    told = facts(table("pre weight (g),post weight (g)", "3300,3350"))
    assert told == [TestWeight(before_g=3300, after_g=3350)]
    assert facts(table("peso (g)", "3300")) == [Weight(weight_g=3300)]
