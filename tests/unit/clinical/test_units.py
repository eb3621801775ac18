"""Conversions are exact: those of NIST Special Publication 811 (2008), appendix B."""

from __future__ import annotations

from decimal import Decimal

import pytest
from scipy import constants
from scipy.stats import uniform

from suffice.clinical import units
from suffice.clinical.units import c_from_f, f_from_c


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [("0", "32"), ("100", "212"), ("-40", "-40"), ("37", "98.6"), ("38.5", "101.3")],
)
def test_a_temperature_and_its_reading_on_the_other_scale(celsius: str, fahrenheit: str) -> None:
    assert f_from_c(Decimal(celsius)) == Decimal(fahrenheit)
    assert c_from_f(Decimal(fahrenheit)) == Decimal(celsius)


def test_a_pound_is_sixteen_ounces_to_the_last_digit() -> None:
    assert units.GRAMS_PER_OUNCE * units.OUNCES_PER_POUND == units.GRAMS_PER_POUND


def test_a_us_fluid_ounce_is_a_128th_of_231_cubic_inches() -> None:
    assert units.ML_PER_FLUID_OUNCE == 231 * units.CM_PER_INCH**3 / 128


def test_a_month_is_a_twelfth_of_the_mean_year() -> None:
    assert units.DAYS_PER_MONTH * 12 == 365.25


@pytest.mark.parametrize(
    ("name", "in_si"),
    [
        ("CM_PER_METRE", 1 / constants.centi),
        ("MM_PER_CM", constants.centi / constants.milli),
        ("ML_PER_LITRE", constants.liter / constants.centi**3),
        ("ML_PER_CENTILITRE", constants.centi / constants.milli),
        ("GRAMS_PER_KILOGRAM", constants.kilo),
        ("GRAMS_PER_POUND", constants.pound / constants.gram),
        ("CM_PER_INCH", constants.inch / constants.centi),
        ("KJ_PER_KCAL", constants.calorie),
        ("SECONDS_PER_MINUTE", constants.minute),
        ("MINUTES_PER_HOUR", constants.hour / constants.minute),
        ("SECONDS_PER_HOUR", constants.hour),
        ("HOURS_PER_DAY", constants.day / constants.hour),
        ("DAYS_PER_WEEK", constants.week / constants.day),
        ("DECIMAL_BASE", constants.deka),
    ],
)
def test_each_conversion_is_that_of_the_unit_in_si(name: str, in_si: float) -> None:
    assert float(getattr(units, name)) == pytest.approx(in_si, rel=1e-12)


def test_a_value_rounded_to_whole_steps_varies_as_a_uniform_one() -> None:
    assert uniform.var() == pytest.approx(1 / units.UNIFORM_VARIANCE_DIVISOR)
