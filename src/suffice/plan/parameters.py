"""The values with which a plan is sized, from the content in force."""

from __future__ import annotations

from functools import lru_cache
from typing import ClassVar

from suffice.clinical.parameters import ConstantSeries, Parameters
from suffice.clinical.production import ProductionParameters
from suffice.clinical.working import Constant
from suffice.inference.production.model import FedParameters
from suffice.knowledge.store import Content


class PlanParameters(Parameters, frozen=True, kw_only=True):
    """How much supplement, how often to feed and to express, and how a supplement is stepped down."""

    topic: ClassVar[str] = "plan"
    keys: ClassVar[dict[str, str]] = {
        "feeds_count_per_day": "feeding.feeds_count_per_day",
        "term_days": "age.term_days",
        "preterm_before_days": "age.preterm_before_days",
        "late_preterm_from_days": "age.late_preterm_from_days",
        "parent_fever_c": "ranking.parent_fever_c",
        "feeds_until_d": "feeding.until_d",
        "few_feeds_count_per_day": "feeding.few_older_count_per_day",
        "few_feeds_until_d": "feeding.few_older_until_d",
        "away_gap_h": "teaching.away_gap_h",
        "away_low_ml": "teaching.away_low_ml",
        "away_high_ml": "teaching.away_high_ml",
        "first_week_until_d": "follow_up.first_week_until_d",
    }

    feeds_count_per_day: Constant
    most_feeds_count_per_day: Constant
    term_days: Constant
    preterm_before_days: Constant
    late_preterm_from_days: Constant
    parent_fever_c: Constant
    feeds_until_d: Constant
    few_feeds_count_per_day: Constant
    few_feeds_until_d: Constant
    away_gap_h: Constant
    away_low_ml: Constant
    away_high_ml: Constant
    first_week_until_d: Constant

    band_low_fraction: Constant
    band_high_fraction: Constant
    short_chance_fraction: Constant
    over_chance_fraction: Constant
    most_ml_per_kg_per_day: Constant
    weight_stands_d: Constant
    amounts_until_h: Constant
    late_preterm_amounts_until_h: Constant
    amount_low_ml: ConstantSeries
    amount_high_ml: ConstantSeries
    late_preterm_low_ml: ConstantSeries
    late_preterm_high_ml: ConstantSeries
    fine_below_ml: Constant
    fine_step_ml: Constant
    coarse_step_ml: Constant
    method_drops_until_ml: Constant
    method_cup_until_ml: Constant
    method_tube_from_ml: Constant
    sugar_gap_until_h: Constant
    stopped_at_breast_h: Constant

    gap_day_h: Constant
    gap_night_h: Constant
    gap_flagged_h: Constant
    small_weight_g: Constant
    late_preterm_breast_minutes: Constant

    build_sessions_count_per_day: Constant
    build_least_count_per_day: Constant
    build_until_d: Constant
    keep_sessions_count_per_day: Constant
    session_minutes: Constant
    removal_gap_h: Constant
    wean_step_d: Constant

    breast_minutes: Constant
    top_up_minutes: Constant
    bottle_minutes: Constant
    expression_minutes: Constant
    cleaning_minutes: Constant

    after_supplement_h: Constant
    contact_later_d: Constant
    late_preterm_weigh_d: Constant
    lasts_d: Constant
    away_least_h: Constant
    away_amount_from_d: Constant
    part_of_need_fraction: Constant

    step_large_ml_per_day: Constant
    step_middle_ml_per_day: Constant
    step_small_ml_per_day: Constant
    step_days: Constant
    step_sure_fraction: Constant
    step_low_fraction: Constant
    step_not_low_fraction: Constant
    step_back_fraction: Constant
    step_floor_fraction: Constant
    step_lost_fraction: Constant
    step_lost_sd_fraction: Constant
    step_ml_per_g_ratio: Constant
    step_held_count: Constant
    step_gain_drift_g_per_day: Constant
    step_gain_start_fraction: Constant
    step_gain_start_sd_fraction: Constant
    step_noise_g: Constant
    step_noise_weights_count: Constant
    step_done_d: Constant


@lru_cache(maxsize=8)
def plan_parameters(content: Content) -> PlanParameters:
    """The values of a plan; kept.

    Raises:
        ContentError: CONTENT-020 for each constant that is missing, as in a set of the past.
    """
    return PlanParameters.from_content(content.flat, content.series)


@lru_cache(maxsize=8)
def production_parameters(content: Content) -> ProductionParameters:
    """The values of production; kept.

    Raises:
        ContentError: CONTENT-020 for each constant that is missing, as in a set of the past.
    """
    return ProductionParameters.from_content(content.flat, content.series)


@lru_cache(maxsize=8)
def fed_parameters(content: Content) -> FedParameters:
    """The values of production where the infant feeds between sessions; kept.

    Raises:
        ContentError: CONTENT-020 for each constant that is missing, as in a set of the past.
    """
    return FedParameters.from_content(content.flat, content.series)
