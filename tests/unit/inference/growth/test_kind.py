"""Four kinds of infants: what their weights say of it, and what follows for the forecast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from growth_cohorts import NAN, PRIOR, REFERENCE, three_infants, trusting, weighed
from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.kind import kinds_of, of_all_kinds, shares_of
from suffice.inference.growth.prior import default_shift

SITE = default_shift(PRIOR)
AGES = [float(day) for day in range(0, 57, 7)]
ONE_KIND = replace(PRIOR, own_spread_log_sd=0.0, own_noise_log_sd=0.0)


def scattering(by_g: float):
    """A girl who grows along the median, her weekly weights too high and too low by turns."""
    middle, _ = REFERENCE.at(np.zeros(1), np.array([AGES]))
    turns = by_g * np.array([0.0, *[(-1.0) ** k for k in range(1, len(AGES))]])
    return weighed([AGES], [list(middle[0] + turns)])


def width(infants, prior=PRIOR) -> float:
    """Of the 80 % interval of a reading a week on, g."""
    fan = forecast(prior, REFERENCE, infants, np.array([[63.0]]))
    return float(fan.quantiles_g()[0, 0, 5] - fan.quantiles_g()[0, 0, 1])


def test_all_kinds_together_have_the_spread_of_the_site_and_its_noise_in_the_middle():
    kinds = kinds_of(PRIOR, replace(SITE, spread=1.1, noise_g=40.0))
    assert np.mean([kind.spread**2 for kind in kinds]) == pytest.approx(1.1**2)
    assert np.mean([np.log(kind.noise_g) for kind in kinds]) == pytest.approx(np.log(40.0))
    assert len({(kind.spread, kind.noise_g) for kind in kinds}) == 4


def test_the_first_weight_says_nothing_of_the_kind():
    steps = np.array([[[-5.0, -6.0]], [[-50.0, -6.0]]])
    assert shares_of(steps)[:, 0] == pytest.approx(np.full((2, 3), 0.5))


def test_an_infant_becomes_what_foretells_it_better():
    steps = np.array([[[-5.0, -6.0, -6.0]], [[-5.0, -8.0, -6.0]]])
    shares = shares_of(steps)[:, 0]
    assert shares[0] == pytest.approx([0.5, 0.5, 1 / (1 + np.exp(-2)), 1 / (1 + np.exp(-2))])
    told = of_all_kinds(steps)[0]
    assert told[1] == pytest.approx(np.log((np.exp(-6) + np.exp(-8)) / 2))
    assert told[2] == pytest.approx(-6.0)


def test_what_is_not_there_has_no_density_and_says_nothing():
    steps = np.array([[[-5.0, NAN]], [[-7.0, NAN]]])
    assert np.isnan(of_all_kinds(steps)[0, 1])
    assert shares_of(steps)[:, 0, -1] == pytest.approx([0.5, 0.5])


def test_a_kind_that_is_all_but_ruled_out_still_counts_where_the_others_find_a_weight_impossible():
    """Two weights ten times too high, then right ones: shares and densities both leave the floating numbers."""
    steps = np.array([[[-5.0, -9000.0, -600.0]], [[-5.0, -6.0, -11000.0]]])
    assert of_all_kinds(steps)[0, 2] == pytest.approx(-8994.0 - 600.0)


def test_weights_that_scatter_make_the_forecast_wider_and_quiet_ones_narrower():
    assert width(scattering(130.0)) > 1.1 * width(scattering(130.0), ONE_KIND)
    assert width(scattering(0.0)) < 0.95 * width(scattering(0.0), ONE_KIND)


def test_an_infant_with_one_weight_is_of_each_kind_alike():
    one = weighed([[0.0]], [[3300.0]])
    found = forecast(trusting(), REFERENCE, one, np.array([[28.0]]))
    mixed = forecast(
        replace(trusting(), own_spread_log_sd=0.2, own_noise_log_sd=0.35),
        REFERENCE, one, np.array([[28.0]]),
    )  # fmt: skip
    assert mixed.mean_g[0, 0] == pytest.approx(found.mean_g[0, 0], abs=5)
    assert mixed.sd_g[0, 0] == pytest.approx(found.sd_g[0, 0], rel=0.02)
    assert mixed.noise_g[0, 0] == pytest.approx(
        found.noise_g[0, 0] * np.sqrt(np.cosh(2 * 0.35)), rel=1e-6
    )


def test_without_differences_between_infants_all_kinds_are_one():
    """The oracles of the single kind then hold for what is mixed."""
    fan = forecast(ONE_KIND, REFERENCE, three_infants(), np.full((3, 1), 40.0))
    noise = ONE_KIND.reading_noise_g(np.full((3, 1), 40.0), ONE_KIND.noise_g)
    np.testing.assert_allclose(fan.noise_g, noise)


def test_the_doubt_of_a_weight_stays_with_its_column_in_whatever_order():
    ages, grams = [12.0, 0.0, 6.0, NAN, 3.0], [3430.0, 3300.0, 4200.0, NAN, 3100.0]
    found = forecast(PRIOR, REFERENCE, weighed([ages], [grams]), np.array([[20.0]]))
    assert found.gross_probability[0].argmax() == 2
    assert found.gross_probability[0, 3] == 0
