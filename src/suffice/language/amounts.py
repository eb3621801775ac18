"""Amounts as one clinic reads them: its units, its marks, its language.

The one place where a stored amount (g, mL, °C) becomes text, for pages, papers, findings and the
shell alike; ages and instants do in :mod:`suffice.language.times`. Nothing here computes.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Final

import msgspec

from suffice.clinical.reading.quantity import QUANTITIES
from suffice.clinical.reading.writing import (
    NO_BREAK_SPACE,
    length_text,
    number_text,
    temperature_text,
    volume_text,
    weight_text,
)
from suffice.clinical.working import Constant
from suffice.knowledge.policy import Policy
from suffice.language.catalogue import decimal_mark, translated
from suffice.message import Message, message

MINUS: Final = "\N{MINUS SIGN}"

UNITS: Final[Mapping[str, Message | str]] = {
    **{one.stored: one.units[0].sign for one in QUANTITIES.values() if one.most},
    "1": "",
    "count": "",
    "{#}/d": "",
    "percent": "%",
    "Cel": "°C",
    "d": message("day", plural="days"),
    "/d": message("a day"),
    "{#}/min": message("a minute"),
    "g/d": message("g/day"),
    "{words}": "",
    "{points}": "",
    "{#}": "",
    "cm2": "cm²",
    "kg/m2": "kg/m²",
    "{#}.kg/mL": message("a day for each mL/kg/day"),
    "wk": message("week", plural="weeks"),
    "lb/mo": message("lb/month"),
    "kJ/kg/d": message("kJ/kg/day"),
    "oz/d": message("oz/day"),
    "g/kg/d": message("g/kg/day"),
    "mL/d": message("mL/day"),
    "fl oz/d": message("fl oz/day"),
    "mL/kg/d": message("mL/kg/day"),
    "kcal/d": message("kcal/day"),
    "kcal/kg/d": message("kcal/kg/day"),
}
"""Codes of units that a reader does not see, and what is read instead; other codes are read."""

COUNTED: Final = frozenset(
    {"count", "/d", "{#}/d", "{#}/min", "{#}", "{points}", "1", "h", "d", "min", "wk", "mm", "cm2"}
)
"""Units whose values have no decimals where they are whole."""
WHOLE: Final = frozenset({"g/d", "mL/d", "kcal/d"})
"""Units whose decimals tell nothing."""
MEASURED: Final = frozenset(one.stored for one in QUANTITIES.values() if not one.is_time)
"""Units of what is measured: a no-break space stands before them in a sentence too."""

WORDS: Final = frozenset({"days", "weeks", "hours", "in"})
"""Units that are words, or look like one: a line may end before them. An amount in inches is kept together where it is written."""
SYMBOLS: Final = (
    frozenset(
        {unit.sign for one in QUANTITIES.values() for unit in one.units}
        | {words for words in UNITS.values() if isinstance(words, str) and words}
        | {"h", "fl", "°F", "kcal"}
    )
    - WORDS
)
"""Units as they are read, in any language: a line never ends before one."""
_INSIDE_AN_AMOUNT: Final = re.compile(
    # A sign before a number, as it is and as a page writes it; a unit behind one.
    rf"(?:(?<=[<>])|(?<=&[gl]t;)) (?=\d)|(?<=\d) (?=(?:{'|'.join(re.escape(one) for one in sorted(SYMBOLS))})(?![^\W\d_]))"
)


def kept_together(text: str) -> str:
    """A text in which no line ends inside an amount: '24 h', '9.1 %', '> 99 %'."""
    return _INSIDE_AN_AMOUNT.sub(NO_BREAK_SPACE, text)


class AmountText(msgspec.Struct, frozen=True, kw_only=True):
    """A number as it is read, and its unit."""

    number: str
    unit: str = ""

    def __str__(self) -> str:
        """Both, kept together."""
        return f"{self.number}{NO_BREAK_SPACE}{self.unit}" if self.unit else self.number


# ---- amounts ---------------------------------------------------------------------------------


def local_number(value: float, decimals: int, language: str) -> str:
    """A number, rounded half away from zero, with a true minus sign and the language's mark."""
    if not math.isfinite(value):
        return figures_text(value, language)
    step = Decimal(1).scaleb(-decimals)
    return _minus(number_text(value, step=step, decimal_mark=decimal_mark(language)))


def decimals_shown(value: float, unit: str) -> int:
    """Decimals worth showing: two for z, none for large or counted values, else one."""
    if abs(value) >= 100 or unit in WHOLE or (unit in COUNTED and value == round(value)):
        return 0
    return 2 if unit == "1" else 1


def unit_text(unit: str, language: str, *, number: str = "") -> str:
    """A unit as it is read; `number` is what stands before it."""
    words = UNITS.get(unit, unit)
    if isinstance(words, str):
        return words
    return translated(
        words.template, language, plural=words.plural, count=1 if number == "1" else 2
    )


def amount(value: float, unit: str, policy: Policy, *, decimals: int | None = None) -> AmountText:
    """A value in the clinic's unit and marks.

    Args:
        value: The value.
        unit: Its unit, as in the content store.
        policy: The clinic's policy.
        decimals: Decimals to show where the clinic reads the stored unit; left out, as many as
            the unit is read with.
    """
    if not math.isfinite(value):
        return AmountText(number=f"{value:g}", unit=unit)
    if decimals is None or not _reads_stored(unit, policy):
        written = _written(value, unit, policy)
        if written is not None:
            return written
    digits = decimals_shown(value, unit) if decimals is None else decimals
    number = local_number(value, digits, policy.language)
    return AmountText(number=number, unit=unit_text(unit, policy.language, number=number))


def _reads_stored(unit: str, policy: Policy) -> bool:
    """Whether the clinic reads a value in the unit in which it is stored."""
    return {
        "g": policy.weight_unit in {"g", "kg"},
        "mL": policy.volume_unit == "mL",
        "mL/d": policy.volume_unit == "mL",
        "Cel": policy.temperature_unit == "C",
        "cm": policy.length_unit == "cm",
    }.get(unit, True)


def _written(value: float, unit: str, policy: Policy) -> AmountText | None:
    """What is measured, in the clinic's unit; None for anything else."""
    mark = decimal_mark(policy.language)
    if unit == "g":
        # Whole grams are what a scale shows: two decimals of a kilogram would hide ten of them.
        weight_unit = "g" if policy.weight_unit == "kg" else policy.weight_unit
        return _split(weight_text(value, weight_unit, decimal_mark=mark))
    if unit in {"mL", "mL/d"}:
        parts = _split(volume_text(value, policy.volume_unit, decimal_mark=mark))
        per_day = unit_text(f"{parts.unit}/d", policy.language)
        return parts if unit == "mL" else AmountText(number=parts.number, unit=per_day)
    if unit == "Cel":
        return _split(temperature_text(value, policy.temperature_unit, decimal_mark=mark))
    if unit == "cm":
        return _split(length_text(value, policy.length_unit, decimal_mark=mark))
    return None


def amount_text(value: float, unit: str, policy: Policy, *, decimals: int | None = None) -> str:
    """A value with its unit, in a sentence."""
    text = amount(value, unit, policy, decimals=decimals)
    return str(text) if unit in MEASURED else f"{text.number} {text.unit}".rstrip()


def signed(text: str, value: float) -> str:
    """What was said of a change, with a plus sign where it rises and does not round to nothing."""
    return f"+{text}" if value > 0 and any(digit in text for digit in "123456789") else text


def _minus(text: str) -> str:
    return text.replace("-", MINUS)


def _split(text: str) -> AmountText:
    """A written quantity parted at its last no-break space."""
    number, _space, unit = _minus(text).rpartition(NO_BREAK_SPACE)
    return AmountText(number=number, unit=unit)


def figures_text(value: float, language: str) -> str:
    """A number with all the digits that it has, as an author wrote it."""
    return _minus(f"{value:g}".replace(".", decimal_mark(language)))


def constant_text(constant: Constant, language: str) -> str:
    """A constant as its source gives it, in the unit of its source."""
    number = figures_text(constant.value, language)
    return str(AmountText(number=number, unit=unit_text(constant.unit, language, number=number)))
