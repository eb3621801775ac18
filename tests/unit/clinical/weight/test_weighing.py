"""Weights of one infant on one time line, and how far each can be trusted."""

from __future__ import annotations

import math

import pytest

from clinical_constants import INFANT, birth_entry, constant, entry
from people import an_id
from suffice.clinical.entry import Weight
from suffice.clinical.weight.weighing import (
    Weighing,
    WeightNoise,
    in_order,
    is_comparable,
    single_weight_se_g,
    weighings,
)
from suffice.errors import InputError

NOISE = WeightNoise(
    within_infant_sd_g=constant(30, "g", key="within"),
    uncontrolled_sd_g=constant(60, "g", key="uncontrolled"),
    scale_resolution_g=constant(12, "g", key="step"),
)
BIRTH = birth_entry(birth_weight_g=3400.0)


def a_weight(grams, age_h, **more):
    return entry(Weight(weight_g=grams, clothing="naked"), age_h, **more)


def test_weights_stand_by_age_and_the_birth_weight_before_others_of_its_age():
    found = weighings([a_weight(3300, 48), a_weight(3390, 0), BIRTH, a_weight(3250, 24)], INFANT)
    assert [(one.age_h, one.weight_g, one.is_birth) for one in found] == [
        (0, 3400, True),
        (0, 3390, False),
        (24, 3250, False),
        (48, 3300, False),
    ]
    assert found[0].entry_id == BIRTH.id


def test_each_keeps_its_scale_and_clothing():
    (one,) = weighings([birth_entry(), a_weight(3300, 48, device="ward")], INFANT)
    assert (one.scale, one.clothing, one.is_birth) == ("ward", "naked", False)


def test_weights_of_another_infant_are_left_out():
    other = a_weight(2000, 10, infant_id=an_id("twin"))
    assert [one.weight_g for one in weighings([BIRTH, other], INFANT)] == [3400]


def test_without_birth_facts_and_before_birth_there_are_no_ages():
    with pytest.raises(InputError, match="WEIGHT-020"):
        weighings([a_weight(3300, 48)], INFANT)
    with pytest.raises(InputError, match="WEIGHT-021"):
        weighings([BIRTH, a_weight(3300, -0.5)], INFANT)


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (("ward", "naked"), ("ward", "naked"), True),
        (("ward", None), ("ward", "naked"), True),
        (("ward", "naked"), ("home", "naked"), False),
        ((None, "naked"), (None, "naked"), False),
        (("ward", "clothed"), ("ward", "naked"), False),
        (("ward", "naked"), ("ward", "clothed"), False),
    ],
)
def test_two_weights_are_comparable_on_one_known_scale_and_not_clothed(first, second, expected):
    one, other = (
        Weighing(age_h=0, weight_g=1, scale=scale, clothing=clothing)
        for scale, clothing in (first, second)
    )
    assert is_comparable(one, other) is expected


@pytest.mark.parametrize(
    ("more", "expected", "keys"),
    [
        ({}, math.sqrt(30**2 + 12**2 / 12), {"within", "step"}),
        ({"resolution_g": 0.0}, 30.0, {"within"}),
        ({"resolution_g": 24.0}, math.sqrt(30**2 + 48), {"within"}),
        ({"controlled": False}, math.sqrt(60**2 + 12), {"uncontrolled", "step"}),
    ],
)
def test_one_weight_wavers_by_the_infant_and_by_the_step_of_its_scale(more, expected, keys):
    """A reading rounded to steps of r has the variance r^2 / 12 of a uniform error."""
    figure = single_weight_se_g(NOISE, **more)
    assert figure.value == pytest.approx(expected)
    assert {one.key for one in figure.working.constants} == keys


def test_equal_ages_keep_the_birth_weight_first():
    birth = Weighing(age_h=0, weight_g=3400, is_birth=True)
    same, later = Weighing(age_h=0, weight_g=3390), Weighing(age_h=1, weight_g=3380)
    assert in_order([later, same, birth]) == (birth, same, later)
