"""The named formulas, each against a figure worked out by hand."""

from __future__ import annotations

import pytest

from suffice.knowledge.derivation import FORMULAS, JOINED

BY_HAND = {
    "same": ((7.0,), 7.0),
    "difference": ((7.0, 3.0), 4.0),
    "ratio": ((7.0, 2.0), 3.5),
    "sum": ((7.0, 3.0), 10.0),
    "product": ((7.0, 3.0), 21.0),
    "plus_multiple_of_sd": ((100.0, -2.0, 15.0), 70.0),
    "single_weight_sd": ((14.1421356,), 10.0),
    "sd_from_95_limits": ((-19.6, 19.6), 10.0),
    "sd_from_95_half_width": ((19.6,), 10.0),
    # 2.8 kJ/g at 1.03 g/mL: 2.884 kJ/mL, and a kilocalorie is 4.184 kJ.
    "kcal_per_ml_of_milk": ((2.8, 1.03), 0.68929),
    JOINED: ((7.0,), 7.0),
    "kcal_per_dl_to_ml": ((67.0,), 0.67),
    # An avoirdupois ounce is 28.349523125 g, a pound 453.59237 g; a mean month has 30.4375 days.
    "ounces_to_grams": ((2 / 3,), 18.8997),
    "pounds_a_month_to_grams_a_day": ((1.0,), 14.9024),
    "weeks_to_days": ((37.0,), 259.0),
    "per_minute_to_per_hour": ((0.05,), 3.0),
    "evaporation_from_day": ((60.0, 4.0, 5.0), 3.0),
    "growth_share_of_gain": ((211.0, 35.0), 6.02857),
}


@pytest.mark.parametrize("name", BY_HAND)
def test_a_formula_gives_what_is_worked_out_by_hand(name: str) -> None:
    arguments, expected = BY_HAND[name]
    assert FORMULAS[name].compute(*arguments) == pytest.approx(expected, rel=1e-4)


def test_every_formula_is_worked_out_and_has_words() -> None:
    assert set(BY_HAND) == set(FORMULAS)
    assert all(formula.words for formula in FORMULAS.values())
    assert len({formula.words for formula in FORMULAS.values()}) == len(FORMULAS)
