"""Limits of entries of the tests' own, and what is found in one entry against them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from clinical_constants import Steps, birth_entry, constant, entry
from suffice.clinical.entry import AnyFact, Entry
from suffice.clinical.plausibility import check_entry
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.errors import Problem
from suffice.knowledge.store import load

SERIES: dict[str, Any] = {
    "weight_refused_low_g": Steps({0: 300, 730: 4000}, linear=True),
    "weight_doubtful_low_g": Steps({0: 1000, 30: 1800, 730: 7500}, linear=True),
    "weight_doubtful_high_g": Steps({0: 5500, 30: 6800, 730: 19500}, linear=True),
    "weight_refused_high_g": Steps({0: 8000, 30: 9000, 730: 28000}, linear=True),
}
NUMBERS: dict[str, Any] = {
    "birth_weight_refused_low_g": 300,
    "birth_weight_doubtful_low_g": 1000,
    "birth_weight_doubtful_high_g": 5500,
    "birth_weight_refused_high_g": 8000,
    "gain_doubtful_low_g_per_day": -100,
    "gain_doubtful_high_g_per_day": 100,
    "change_doubtful_g": 250,
    "loss_doubtful_percent": 15,
    "loss_refused_percent": 45,
    "gestation_refused_low_d": 147,
    "gestation_doubtful_low_d": 161,
    "gestation_doubtful_high_d": 301,
    "gestation_refused_high_d": 315,
    "temperature_refused_low_c": 30,
    "temperature_doubtful_low_c": 34.5,
    "temperature_doubtful_high_c": 40.5,
    "temperature_refused_high_c": 43,
    "feed_volume_doubtful_high_ml": 250,
    "feed_volume_refused_high_ml": 500,
    "expression_volume_doubtful_high_ml": 400,
    "expression_volume_refused_high_ml": 1000,
    "test_weight_transfer_refused_low_g": -200,
    "test_weight_transfer_doubtful_low_g": -20,
    "test_weight_transfer_doubtful_high_g": 240,
    "test_weight_transfer_refused_high_g": 500,
    "feed_doubtful_high_minutes": 90,
    "feed_refused_high_minutes": 300,
    "expression_doubtful_high_minutes": 60,
    "expression_refused_high_minutes": 240,
    "interval_doubtful_high_h": 24,
    "interval_refused_high_h": 168,
    "wets_doubtful_high_count_per_day": 15,
    "wets_refused_high_count_per_day": 40,
    "stools_doubtful_high_count_per_day": 14,
    "stools_refused_high_count_per_day": 40,
    "length_refused_low_cm": 20,
    "length_doubtful_low_cm": 38,
    "length_doubtful_high_cm": 95,
    "length_refused_high_cm": 110,
    "head_refused_low_cm": 15,
    "head_doubtful_low_cm": 28,
    "head_doubtful_high_cm": 53,
    "head_refused_high_cm": 60,
    "fluids_doubtful_high_ml": 6000,
    "fluids_refused_high_ml": 20000,
    "multiple_doubtful_count": 3,
    "multiple_refused_count": 9,
    "future_refused_h": 0.25,
    "entered_late_doubtful_d": 400,
}
NAMED = {
    "bilirubin.doubtful_umol_per_l": 430,
    "bilirubin.refused_umol_per_l": 1000,
    "feeding.doubtful_count_per_day": 18,
    "feeding.refused_count_per_day": 40,
    "plan.doubtful_gap_h": 6,
    "plan.doubtful_sessions_count_per_day": 12,
    "plan.doubtful_supplement_ml_per_day": 900,
    "plan.refused_gap_h": 14,
    "plan.refused_sessions_count_per_day": 24,
    "plan.refused_supplement_ml_per_day": 1500,
    "population.clothes_g": 220,
    "schedule.doubtful_high_sleep_h": 9,
    "schedule.doubtful_low_sleep_h": 3,
    "schedule.refused_high_sleep_h": 14,
    "schedule.refused_low_sleep_h": 1,
}
LIMITS = PlausibilityLimits(
    **SERIES,
    **{name: constant(value) for name, value in NUMBERS.items()},
    # Those of a kind whose tests need no limits of their own are the content's.
    named={key: load().constant(key) for key in PlausibilityLimits.names()}
    | {key: constant(value) for key, value in NAMED.items()},
)
BIRTH = birth_entry(birth_weight_g=3400.0)


def problems(
    fact: AnyFact, age_h: float = 72.0, current: Sequence[Entry] = (BIRTH,), **more: Any
) -> tuple[Problem, ...]:
    """What is found in a fact entered at an age."""
    return check_entry(entry(fact, age_h, **more), current, LIMITS)


def codes(
    fact: AnyFact, age_h: float = 72.0, current: Sequence[Entry] = (BIRTH,), **more: Any
) -> list[str]:
    """Codes of what is found, in order."""
    return [problem.code for problem in problems(fact, age_h, current, **more)]


def found(fact: AnyFact, current: Sequence[Entry] = (BIRTH,)) -> list[tuple[str, str, bool]]:
    """Code, field, and whether it is asked about rather than refused."""
    return [(one.code, one.where, one.doubtful) for one in problems(fact, current=current)]


def read(**fields: Any) -> AnyFact:
    """A fact as it comes from outside, by its `kind`; ValidationError where it is none."""
    return msgspec.convert(fields, AnyFact)
