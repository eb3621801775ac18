"""Stored values in the reader's units and marks; the inverse of :mod:`suffice.clinical.reading.reading`.

Rounding is half away from zero, on the decimal digits of the value, as a person rounds. Pounds
and ounces are rounded once, in ounces, so 16 oz can never stand beside pounds. A no-break space
parts a number from its unit.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from suffice.clinical.reading.numeral import DecimalMark
from suffice.clinical.reading.reading import LengthUnit, TemperatureUnit, VolumeUnit, WeightUnit
from suffice.clinical.units import (
    CM_PER_INCH,
    DAYS_PER_WEEK,
    GRAMS_PER_KILOGRAM,
    GRAMS_PER_OUNCE,
    ML_PER_FLUID_OUNCE,
    OUNCES_PER_POUND,
    f_from_c,
)

NO_BREAK_SPACE = "\N{NO-BREAK SPACE}"
PERCENT_DECIMALS = 1
"""Decimals of a percentage, wherever it is shown or compared as it is shown."""

_PERCENT = Decimal(100)
_WHOLE = Decimal(1)
_TENTH = Decimal("0.1")
_HUNDREDTH = Decimal("0.01")


def number_text(value: float | Decimal, *, step: Decimal, decimal_mark: DecimalMark = ".") -> str:
    """A number rounded to a step of 1, 0.1 or 0.01, with the reader's decimal mark."""
    rounded = _rounded(_decimal(value), step)
    return f"{rounded:f}".replace(".", decimal_mark)


def chance_text(probability: float) -> str:
    """A probability (0 to 1) in whole percent that never claims certainty: ``> 99 %``, ``< 1 %``."""
    percent = _decimal(probability) * _PERCENT
    if percent > _PERCENT - 1:
        return f"> {_PERCENT - 1} %"
    if percent < 1:
        return "< 1 %"
    return f"{_rounded(percent, _WHOLE):f} %"


def weight_text(weight_g: float, unit: WeightUnit, *, decimal_mark: DecimalMark = ".") -> str:
    """A weight: ``3280 g``, ``3.28 kg``, ``7 lb 3.7 oz``. A negative one is a change: ``-2.1 oz``."""
    grams = _decimal(weight_g)
    if unit == "g":
        return _with_unit(grams, _WHOLE, "g", decimal_mark)
    if unit == "kg":
        return _with_unit(grams / GRAMS_PER_KILOGRAM, _HUNDREDTH, "kg", decimal_mark)
    ounces = _rounded(grams / GRAMS_PER_OUNCE, _TENTH)
    sign = "-" if ounces < 0 else ""
    pounds, rest = divmod(abs(ounces), OUNCES_PER_POUND)
    tail = _with_unit(rest, _TENTH, "oz", decimal_mark)
    return f"{sign}{pounds}{NO_BREAK_SPACE}lb {tail}" if pounds else f"{sign}{tail}"


def volume_text(volume_ml: float, unit: VolumeUnit, *, decimal_mark: DecimalMark = ".") -> str:
    """A volume: ``60 mL`` or ``2.0 fl oz`` (US)."""
    if unit == "mL":
        return _with_unit(_decimal(volume_ml), _WHOLE, "mL", decimal_mark)
    return _with_unit(_decimal(volume_ml) / ML_PER_FLUID_OUNCE, _TENTH, "fl oz", decimal_mark)


def temperature_text(
    temperature_c: float, unit: TemperatureUnit, *, decimal_mark: DecimalMark = "."
) -> str:
    """A body temperature to a tenth: ``38.4 °C`` or ``101.1 °F``."""
    degrees = _decimal(temperature_c)
    shown = degrees if unit == "C" else f_from_c(degrees)
    return _with_unit(shown, _TENTH, f"°{unit}", decimal_mark)


def length_text(length_cm: float, unit: LengthUnit, *, decimal_mark: DecimalMark = ".") -> str:
    """A length to a tenth: ``50.2 cm`` or ``19.8 in``."""
    length = _decimal(length_cm)
    shown = length if unit == "cm" else length / CM_PER_INCH
    return _with_unit(shown, _TENTH, unit, decimal_mark)


def gestation_text(gestation_days: int) -> str:
    """A gestation as weeks and days: ``38+2``."""
    weeks, days = divmod(gestation_days, DAYS_PER_WEEK)
    return f"{weeks}+{days}"


def _decimal(value: float | Decimal) -> Decimal:
    """The digits that a person sees of a float, not its binary neighbour."""
    return value if isinstance(value, Decimal) else Decimal(repr(float(value)))


def _rounded(value: Decimal, step: Decimal) -> Decimal:
    rounded = value.quantize(step, rounding=ROUND_HALF_UP)
    return abs(rounded) if rounded == 0 else rounded


def _with_unit(value: Decimal, step: Decimal, unit: str, decimal_mark: DecimalMark) -> str:
    return f"{number_text(value, step=step, decimal_mark=decimal_mark)}{NO_BREAK_SPACE}{unit}"
