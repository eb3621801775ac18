"""Exact conversions, declared once.

Every number here is exact by definition (of the unit, or of mathematics): none of them is
clinical, and no clinical value may be added. Decimal where a value that a person wrote is turned
into a stored one; float where an estimate is computed.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

GRAMS_PER_POUND: Final = Decimal("453.59237")
"""International avoirdupois pound (1959)."""
GRAMS_PER_OUNCE: Final = Decimal("28.349523125")
"""One sixteenth of a pound."""
OUNCES_PER_POUND: Final = 16
ML_PER_FLUID_OUNCE: Final = Decimal("29.5735295625")
"""US customary fluid ounce; the imperial one is smaller and is not read."""
CM_PER_INCH: Final = Decimal("2.54")
MM_PER_CM: Final = 10
CM_PER_METRE: Final = 100
ML_PER_LITRE: Final = 1000
ML_PER_CENTILITRE: Final = 10
GRAMS_PER_KILOGRAM: Final = 1000
FAHRENHEIT_AT_ZERO_C: Final = 32
FAHRENHEIT_PER_C: Final = Decimal("1.8")
KJ_PER_KCAL: Final = 4.184
"""Thermochemical calorie."""

HALF_TURN_DEG: Final = 180
FULL_TURN_DEG: Final = 360

MS_PER_SECOND: Final = 1000
MS_PER_MINUTE: Final = 60_000
SECONDS_PER_MINUTE: Final = 60
MINUTES_PER_HOUR: Final = 60
SECONDS_PER_HOUR: Final = 3600
HOURS_PER_DAY: Final = 24
DAYS_PER_WEEK: Final = 7
DAYS_PER_MONTH: Final = 30.4375
"""Mean month of the Gregorian four-year cycle, 365.25 / 12, as the WHO growth standards use it."""

DECIMAL_BASE: Final = 10
"""One zero too many, or a mark one place off."""
UNIFORM_VARIANCE_DIVISOR: Final = 12
"""Variance of a value rounded to steps of r is r^2 / 12."""


def c_from_f(temperature_f: Decimal) -> Decimal:
    """A temperature in °C, exact, from one in °F."""
    return (temperature_f - FAHRENHEIT_AT_ZERO_C) / FAHRENHEIT_PER_C


def f_from_c(temperature_c: Decimal) -> Decimal:
    """A temperature in °F, exact, from one in °C."""
    return temperature_c * FAHRENHEIT_PER_C + FAHRENHEIT_AT_ZERO_C
