"""The growth prior and its reference as the content store holds them."""

from __future__ import annotations

from functools import cache

import numpy as np

from suffice.clinical.growth.standard import GrowthStandards
from suffice.inference.growth.blend import Growth
from suffice.inference.growth.prior import Floats, GrowthPrior, WeightReference, Worn
from suffice.knowledge.series import Series
from suffice.knowledge.store import Content, load
from suffice.knowledge.tables import growth_standards


def growth_prior(content: Content) -> GrowthPrior:
    """The growth prior in force: topic `forecast` of the content store."""

    def number(name: str) -> float:
        return content.constant(f"forecast.{name}").value

    mean = content.table("forecast.mean_z")
    knots = np.array(mean.positions, dtype=np.float64)
    slopes = content.table("forecast.small_slope_z")
    slope_knots = np.array(slopes.positions, dtype=np.float64)
    stretch = number("stretch_days")

    def along(name: str, at: Floats) -> Floats:
        return _between(content.table(f"forecast.{name}"), at, stretch)

    return GrowthPrior(
        stretch_days=stretch,
        smooth_share=number("smooth_fraction"),
        walk_length=number("walk_length_log"),
        noise_g=number("noise_sd_g"),
        noise_weekly_g=number("noise_weekly_sd_g"),
        noise_older_g=number("noise_older_sd_g"),
        noise_newborn_days=number("noise_newborn_days"),
        noise_weekly_days=number("noise_weekly_days"),
        noise_older_days=number("noise_older_days"),
        wander_days=number("wander_days"),
        sitting_h=content.constant("population.sitting_h").value,
        sitting_shared_fraction=content.constant("population.sitting_shared_fraction").value,
        gross_share=number("gross_fraction"),
        gross_sd_g=number("gross_sd_g"),
        knots_days=knots,
        mean_z=along("mean_z", knots),
        caesarean_z=along("caesarean_z", knots),
        caesarean_share=number("caesarean_fraction"),
        early_week_z=along("early_week_z", knots),
        term_days=number("term_days"),
        early_weeks_max=number("early_weeks_max_count"),
        shift_sd_z=along("shift_sd_z", knots),
        shift_length=number("shift_length_log"),
        birth_until_days=number("birth_until_days"),
        small_from_z=number("small_from_z"),
        small_slope_z=along("small_slope_z", slope_knots),
        slope_knots_days=slope_knots,
        birth_slope_sd=along("birth_slope_sd_z", slope_knots),
        sex_slope_sd=along("sex_slope_sd_z", slope_knots),
        early_slope_sd=along("early_slope_sd_z", slope_knots),
        spread_log_sd=number("spread_log_sd"),
        noise_log_sd=number("noise_log_sd"),
        counted_share=number("counted_fraction"),
        own_share=number("own_fraction"),
        gross_weights=number("gross_weights_count"),
        own_spread_log_sd=number("own_spread_log_sd"),
        own_noise_log_sd=number("own_noise_log_sd"),
    )


def _between(series: Series, at: Floats, stretch_days: float) -> Floats:
    """The values of a series at the knots, straight in stretched age and held after its end."""
    from_days = np.array(series.positions, dtype=np.float64)
    found: Floats = np.interp(
        np.log1p(at / stretch_days), np.log1p(from_days / stretch_days), np.array(series.values)
    )
    return found


def weight_reference(standards: GrowthStandards) -> WeightReference:
    """Median and SD of weight by day of the WHO standard, g; rows girls, boys."""
    table = standards.who.by_age["weight"]
    return WeightReference(median_g=table.median, sd_g=table.median * table.cv)


def growth_of(content: Content) -> Growth:
    """All that the engine's forecast needs of the growth prior, from a content."""

    def number(name: str) -> float:
        return content.constant(f"forecast.{name}").value

    def of_population(name: str) -> float:
        return content.constant(f"population.{name}").value

    return Growth(
        prior=growth_prior(content),
        reference=weight_reference(growth_standards()),
        even_age_d=number("blend_even_d"),
        power=number("blend_exponent"),
        most_log_ratio=number("blend_most_log_ratio"),
        slip_fraction=of_population("gross_error_fraction"),
        slip_range_g=of_population("gross_error_range_g"),
        worn=worn_of(content),
        given_milk_kcal_per_ml=of_population("given_milk_density"),
        tissue_kcal_per_g=of_population("tissue_cost"),
        displaced_fraction=number("displaced_fraction"),
        displaced_sd_fraction=number("displaced_sd_fraction"),
        term_from_d=of_population("gestation_term_d"),
        birth_weight_from_g=of_population("birth_weight_low_g"),
    )


def worn_of(content: Content) -> Worn:
    """What is worn on the scale weighs so much, as the engine supposes it."""

    def number(name: str) -> float:
        return content.constant(f"population.{name}").value

    return Worn(
        clothes_g=number("clothes_g"),
        clothes_sd_g=number("clothes_sd_g"),
        dry_diaper_g=number("dry_diaper_g"),
        dry_diaper_sd_g=number("dry_diaper_sd_g"),
    )


@cache
def default_growth() -> tuple[GrowthPrior, WeightReference]:
    """The growth prior and the reference that ship with the program; read once."""
    return growth_prior(load()), weight_reference(growth_standards())
