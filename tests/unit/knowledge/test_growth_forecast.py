"""The growth prior from the content: every number from its own key, every series at its own ages."""

from __future__ import annotations

from dataclasses import fields, replace

import msgspec
import numpy as np
import pytest

from suffice.errors import ContentError
from suffice.inference.growth.prior import GrowthPrior
from suffice.knowledge.growth_forecast import (
    default_growth,
    growth_of,
    growth_prior,
    weight_reference,
)
from suffice.knowledge.store import load
from suffice.knowledge.tables import growth_standards

CONTENT = load()
PRIOR = growth_prior(CONTENT)
NUMBERS = {
    "stretch_days": "stretch_days",
    "smooth_share": "smooth_fraction",
    "walk_length": "walk_length_log",
    "noise_g": "noise_sd_g",
    "noise_older_g": "noise_older_sd_g",
    "noise_weekly_g": "noise_weekly_sd_g",
    "noise_newborn_days": "noise_newborn_days",
    "noise_weekly_days": "noise_weekly_days",
    "wander_days": "wander_days",
    "noise_older_days": "noise_older_days",
    "gross_share": "gross_fraction",
    "gross_sd_g": "gross_sd_g",
    "caesarean_share": "caesarean_fraction",
    "term_days": "term_days",
    "early_weeks_max": "early_weeks_max_count",
    "shift_length": "shift_length_log",
    "birth_until_days": "birth_until_days",
    "small_from_z": "small_from_z",
    "spread_log_sd": "spread_log_sd",
    "noise_log_sd": "noise_log_sd",
    "counted_share": "counted_fraction",
    "own_share": "own_fraction",
    "gross_weights": "gross_weights_count",
    "own_spread_log_sd": "own_spread_log_sd",
    "own_noise_log_sd": "own_noise_log_sd",
}
SERIES = {
    "mean_z": "mean_z",
    "caesarean_z": "caesarean_z",
    "early_week_z": "early_week_z",
    "shift_sd_z": "shift_sd_z",
    "small_slope_z": "small_slope_z",
    "birth_slope_sd": "birth_slope_sd_z",
    "sex_slope_sd": "sex_slope_sd_z",
    "early_slope_sd": "early_slope_sd_z",
}


def with_number(name: str, value: float):
    key = f"forecast.{name}"
    changed = msgspec.structs.replace(CONTENT.constant(key), value=value)
    return replace(CONTENT, flat={**CONTENT.flat, key: changed})


def unlike(one: GrowthPrior, other: GrowthPrior) -> set[str]:
    """The fields in which two priors differ."""
    names = (field.name for field in fields(GrowthPrior))
    return {n for n in names if not np.array_equal(getattr(one, n), getattr(other, n))}


@pytest.mark.parametrize("field", NUMBERS)
def test_each_number_is_that_of_its_key_and_of_no_other(field):
    assert getattr(PRIOR, field) == CONTENT.constant(f"forecast.{NUMBERS[field]}").value
    # Twice the stretch moves the straight lines between the knots too.
    moved = unlike(growth_prior(with_number(NUMBERS[field], 2 * getattr(PRIOR, field))), PRIOR)
    assert field in moved
    assert moved - {field} <= (set(SERIES) if field == "stretch_days" else set())


@pytest.mark.parametrize("field", SERIES)
def test_each_series_is_met_at_its_own_ages(field):
    series = CONTENT.table(f"forecast.{SERIES[field]}")
    knots = PRIOR.slope_knots_days if "slope" in field else PRIOR.knots_days
    values = getattr(PRIOR, field)
    assert values.shape == knots.shape
    for age, value in zip(series.positions, series.values, strict=True):
        if age in knots:
            assert values[list(knots).index(age)] == pytest.approx(value, abs=1e-12)
    assert values[-1] == pytest.approx(series.values[-1])


def test_every_field_of_the_prior_is_asked_about_here():
    knots = {"knots_days", "slope_knots_days"}
    shared = {"sitting_h", "sitting_shared_fraction"}
    assert {field.name for field in fields(GrowthPrior)} == {*NUMBERS, *SERIES, *knots, *shared}
    for name in shared:
        assert getattr(PRIOR, name) == CONTENT.constant(f"population.{name}").value


def test_the_knots_are_the_ages_of_the_mean_and_of_the_slope_of_small_infants():
    assert tuple(PRIOR.knots_days) == CONTENT.table("forecast.mean_z").positions
    assert tuple(PRIOR.slope_knots_days) == CONTENT.table("forecast.small_slope_z").positions


@pytest.mark.parametrize(
    ("field", "low", "age", "high"), [("shift_sd_z", 28, 60, 180), ("early_week_z", 0, 1, 3)]
)
def test_between_two_ages_of_a_series_the_line_is_straight_in_stretched_age(field, low, age, high):
    at = dict(zip(PRIOR.knots_days.tolist(), getattr(PRIOR, field).tolist(), strict=True))
    stretched = [np.log1p(one / PRIOR.stretch_days) for one in (low, age, high)]
    part = (stretched[1] - stretched[0]) / (stretched[2] - stretched[0])
    assert at[age] == pytest.approx(at[low] * (1 - part) + at[high] * part)
    assert at[age] != pytest.approx(at[low] + (age - low) / (high - low) * (at[high] - at[low]))


def test_after_the_last_age_of_a_series_its_last_value_is_held():
    key = "forecast.caesarean_z"
    whole = CONTENT.table(key)
    cut = msgspec.structs.replace(whole, positions=whole.positions[:4], points=whole.points[:4])
    prior = growth_prior(replace(CONTENT, series={**CONTENT.series, key: cut}))
    assert prior.caesarean_z[:4].tolist() == PRIOR.caesarean_z[:4].tolist()
    assert set(prior.caesarean_z[3:].tolist()) == {whole.values[3]}


def test_the_reference_is_the_who_median_and_its_spread_girls_first():
    reference = weight_reference(growth_standards())
    # WHO 2006, weight at birth: 3232.2 g and 0.14171 for girls, 3346.4 g and 0.14602 for boys.
    assert reference.median_g[:, 0] == pytest.approx([3232.2, 3346.4])
    assert reference.sd_g[:, 0] == pytest.approx([3232.2 * 0.14171, 3346.4 * 0.14602])
    assert reference.last_day == 730


@pytest.mark.parametrize(
    ("field", "key"),
    [
        ("even_age_d", "blend_even_d"),
        ("power", "blend_exponent"),
        ("displaced_fraction", "displaced_fraction"),
        ("displaced_sd_fraction", "displaced_sd_fraction"),
    ],
)
def test_how_both_forecasts_are_pooled_is_read_from_the_content(field, key):
    assert getattr(growth_of(CONTENT), field) == CONTENT.constant(f"forecast.{key}").value
    assert getattr(growth_of(with_number(key, 7.5)), field) == 7.5


def test_what_is_worn_and_what_milk_weighs_is_what_the_engine_supposes():
    growth = growth_of(CONTENT)

    def of_population(name: str) -> float:
        return CONTENT.constant(f"population.{name}").value

    assert growth.worn.taken_off("clothed") == (
        of_population("clothes_g"),
        of_population("clothes_sd_g"),
    )
    diaper = of_population("dry_diaper_g"), of_population("dry_diaper_sd_g")
    assert growth.worn.taken_off("dry diaper") == diaper
    assert growth.given_milk_kcal_per_ml == of_population("given_milk_density")
    assert growth.tissue_kcal_per_g == of_population("tissue_cost")


def test_the_engines_growth_holds_the_prior_of_the_content_it_is_asked_with():
    other = growth_of(with_number("noise_sd_g", 99.0))
    assert other.prior.noise_g == 99.0
    assert unlike(growth_of(CONTENT).prior, PRIOR) == set()


def test_what_ships_is_read_once():
    prior, reference = default_growth()
    assert default_growth()[0] is prior
    assert default_growth()[1] is reference
    assert unlike(prior, PRIOR) == set()


def test_a_number_that_the_content_lacks_is_named():
    flat = {key: one for key, one in CONTENT.flat.items() if key != "forecast.gross_sd_g"}
    with pytest.raises(ContentError, match=r"CONTENT-013.*forecast\.gross_sd_g"):
        growth_prior(replace(CONTENT, flat=flat))
