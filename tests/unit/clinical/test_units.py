"""Conversions are exact: those of NIST Special Publication 811 (2008), appendix B."""

from __future__ import annotations

from decimal import Decimal

import pytest

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
