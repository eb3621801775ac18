"""Which weight may have been meant."""

from __future__ import annotations

import pytest

from spoken import text
from suffice.clinical.weight.slip import likely_slips


def weights(weight_g, low=2000, high=6000, near_g=None):
    found = likely_slips(weight_g, lambda one: low <= one <= high, near_g)
    return [pytest.approx(slip.weight_g, abs=0.01) for slip in found]


@pytest.mark.parametrize(
    ("entered_g", "meant_g"),
    [
        (32800, 3280),  # one zero too many
        (328, 3280),  # one zero too few
        (3.28, 3280),  # kilograms taken for grams
        (115.7, 115.7 * 28.349523125),  # ounces taken for grams
        (7231.15, 3280.0),  # pounds taken for kilograms
        (1487.78, 3280.0),  # kilograms taken for pounds
    ],
)
def test_a_factor_is_undone(entered_g, meant_g):
    assert meant_g in weights(entered_g)


def test_neighbouring_digits_may_be_swapped_in_a_whole_weight():
    assert set(likely_swaps(3280)) == {2380, 3820, 3208}
    assert likely_swaps(3280.5) == []


def likely_swaps(weight_g):
    found = likely_slips(weight_g, lambda one: 2000 <= one <= 6000)
    return [slip.weight_g for slip in found if "swapped" in slip.words.template]


def test_a_swap_never_makes_a_leading_zero_and_equal_digits_are_none():
    assert [one.weight_g for one in likely_slips(30, lambda one: one == 3)] == [3.0]
    assert likely_slips(33, lambda one: one == 33) == ()


@pytest.mark.parametrize("weight_g", [0, -0.5, -3280, float("nan"), float("inf")])
def test_what_is_no_weight_has_no_slip(weight_g):
    assert likely_slips(weight_g, lambda one: True) == ()


def test_what_would_not_be_plausible_is_not_offered():
    assert likely_slips(3280, lambda one: False) == ()


def test_the_nearest_to_the_last_weight_comes_first():
    assert weights(3280, near_g=2400)[0] == 2380
    assert weights(3280, near_g=3800)[0] == 3820


def test_one_weight_is_offered_once():
    found = [round(slip.weight_g) for slip in likely_slips(2345, lambda one: True)]
    assert len(found) == len(set(found))


def test_slips_never_offer_what_does_not_fit_or_what_was_entered():
    slips = likely_slips(3280, lambda grams: 3000 <= grams <= 4000)
    assert [(slip.weight_g, text(slip.words)) for slip in slips] == [
        (3820, "two digits swapped"),
        (3208, "two digits swapped"),
    ]


def test_a_zero_may_be_swapped_with_the_digit_behind_it():
    found = likely_slips(3080, lambda one: one == 3800)
    assert [text(slip.words) for slip in found] == ["two digits swapped"]


def test_a_swap_never_begins_with_a_zero():
    assert all(
        slip.weight_g > 1000
        for slip in likely_slips(3080, lambda _: True)
        if "swapped" in text(slip.words)
    )
    assert not any("swapped" in text(slip.words) for slip in likely_slips(10, lambda _: True))
