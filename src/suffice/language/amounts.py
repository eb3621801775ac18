"""Ages, instants and amounts as the consultant reads them in a sentence."""

from __future__ import annotations

import math
from datetime import date, datetime
from zoneinfo import ZoneInfo

from suffice.clinical.reading.writing import (
    PERCENT_DECIMALS,
    length_text,
    temperature_text,
    volume_text,
    weight_text,
)
from suffice.clinical.units import HOURS_PER_DAY
from suffice.knowledge.policy import Language, Policy
from suffice.language.catalogue import decimal_mark, localised, reworded, say

HOURS_SAID_UNTIL = 72
"""A newborn's age is told in hours up to here; a convention of speech, not a clinical limit."""


def age_said(age_h: float, language: Language = "en") -> str:
    """An age: '71 h' for the newborn, then '19 days'; completed ones, as people count them."""
    if age_h < HOURS_SAID_UNTIL:
        return f"{math.floor(age_h)} h"
    return say("{days} days", {"days": f"{math.floor(age_h / HOURS_PER_DAY)}"}, language)


def days_said(age_h: float, language: Language = "en") -> str:
    """An age: in hours for the newborn, then in days."""
    return say("{age} of age", {"age": age_said(age_h, language)}, language)


def instant_said(at: datetime, zone: ZoneInfo, language: Language = "en") -> str:
    """A local instant: 'Wed 25 Nov, 09:30'."""
    local = at.astimezone(zone)
    return f"{day_said(local.date(), language)}, {local:%H:%M}"


def day_said(day: date, language: Language = "en") -> str:
    """A local date: 'Wed 25 Nov'."""
    weekday, month = (reworded(f"{day:{name}}", language) for name in ("%a", "%b"))
    return f"{weekday} {day.day} {month}"


def ago_said(hours: float, language: Language = "en") -> str:
    """How long ago: in hours up to two days, then in days."""
    if hours < 2 * HOURS_PER_DAY:
        return say("{hours} h ago", {"hours": f"{math.floor(hours)}"}, language)
    return say("{days} days ago", {"days": f"{math.floor(hours / HOURS_PER_DAY)}"}, language)


COUNTED = frozenset({"count", "/d", "{#}/d", "1", "h", "d", "min"})


def decimals_said(value: float, unit: str) -> int:
    """Decimals worth showing: two for z, none for large or counted values, else one."""
    if abs(value) >= 100 or (unit in COUNTED and value == round(value)):
        return 0
    return 2 if unit == "1" else 1


def amount_said(value: float, unit: str, policy: Policy) -> str:
    """A value with its unit, as this clinic reads it, with a true minus sign."""
    if not math.isfinite(value):
        return f"{value:g} {unit}"
    said = _amount(value, unit, policy)
    return f"\N{MINUS SIGN}{said[1:]}" if said.startswith("-") else said


def _amount(value: float, unit: str, policy: Policy) -> str:
    language = policy.language
    mark = decimal_mark(language)
    if unit == "Cel":
        return temperature_text(value, policy.temperature_unit, decimal_mark=mark)
    if unit == "g":
        return weight_text(value, policy.weight_unit, decimal_mark=mark)
    if unit == "mL":
        return volume_text(value, policy.volume_unit, decimal_mark=mark)
    if unit == "cm":
        return length_text(value, policy.length_unit, decimal_mark=mark)
    if unit == "%":
        return localised(f"{value:.{PERCENT_DECIMALS}f} %", language)
    if unit == "{#}/d":
        return localised(f"{value:g}", language)
    return f"{value:.0f} {reworded(UNITS_SAID.get(unit, unit), language)}"


UNITS_SAID = {"g/d": "g/day", "g/kg/d": "g/kg/day", "mL/d": "mL/day", "kcal/d": "kcal/day"}


FIGURES_SAID = {
    "change_percent": "change from birth weight",
    "loss_percent": "loss from birth weight",
    "change_from_24h_percent": "change from the 24-h weight",
    "nadir_h": "age at the lowest weight",
    "nadir_loss_percent": "deepest loss",
    "regain_h": "age at return to birth weight",
    "gain_last_g_per_day": "gain between the last two weights",
    "gain_since_nadir_g_per_day": "gain since the lowest weight",
    "gain_g_per_day": "gain that is judged",
    "gain_g_per_kg_per_day": "gain that is judged, for weight",
    "z": "z of weight",
    "centile": "centile of weight",
    "birth_z": "z of birth weight for gestation",
    "velocity_z": "z of gain over 1 or 2 months",
    "centile_fall_spaces": "centile spaces fallen",
    "length_z": "z of length",
    "head_z": "z of head circumference",
    "weight_for_length_z": "z of weight for length",
    "corrected_age_d": "corrected age",
    "requirement_kcal_per_day": "energy requirement",
    "requirement_ml_per_day": "need as milk",
    "feed_size_ml": "feed size at this age",
    "share_met_percent": "share of the need that was measured",
    "milk_given_24h_ml": "milk given in 24 h",
    "transfer_ml": "latest test weight",
    "transfers_24h_ml": "test weights of 24 h",
    "wets_24h": "wets in 24 h",
    "wets_24h_expected": "wets expected",
    "stools_24h": "stools in 24 h",
    "stools_24h_expected": "stools expected",
    "temperature_c": "latest temperature",
    "estimate": "the engine's answer",
}


def figure_said(name: str) -> str:
    """What a figure is called in words."""
    return FIGURES_SAID.get(name, name.replace("_", " "))
