"""Values as people write them, into the units that are stored: g, mL, °C, cm, days, minutes.

Each function answers with a :class:`~suffice.clinical.reading.candidate.Reading`: clear, or with doubts
to ask about; what cannot be read or is impossible is refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import ClassVar, Literal

import msgspec

from suffice.clinical.parameters import NamedParameters
from suffice.clinical.reading.candidate import Possible, Reading, resolve, shown, unreadable
from suffice.clinical.reading.numeral import NUMERAL, DecimalMark, readings, tidy
from suffice.clinical.reading.quantity import QUANTITIES, keys_asked
from suffice.clinical.units import (
    CM_PER_INCH,
    CM_PER_METRE,
    DAYS_PER_WEEK,
    GRAMS_PER_KILOGRAM,
    GRAMS_PER_OUNCE,
    GRAMS_PER_POUND,
    MINUTES_PER_HOUR,
    ML_PER_CENTILITRE,
    ML_PER_FLUID_OUNCE,
    ML_PER_LITRE,
    MM_PER_CM,
    OUNCES_PER_POUND,
    SECONDS_PER_MINUTE,
    c_from_f,
)
from suffice.clinical.working import Constant
from suffice.errors import InputError, Problem
from suffice.message import Message, message

WeightUnit = Literal["g", "kg", "lb oz"]
VolumeUnit = Literal["mL", "fl oz"]
TemperatureUnit = Literal["C", "F"]
LengthUnit = Literal["cm", "in"]


class ReadingLimits(NamedParameters, frozen=True, kw_only=True):
    """What is possible at all; outside it a reading is refused whatever the age."""

    topic: ClassVar[str] = "reading"

    weight_low_g: Constant
    weight_high_g: Constant
    volume_high_ml: Constant
    temperature_low_c: Constant
    temperature_high_c: Constant
    length_low_cm: Constant
    length_high_cm: Constant
    gestation_low_d: Constant
    gestation_high_d: Constant
    duration_high_minutes: Constant

    @classmethod
    def names(cls) -> Iterable[str]:
        """What the quantities of :mod:`suffice.clinical.reading.quantity` ask for."""
        return keys_asked()


class Habits(msgspec.Struct, frozen=True, kw_only=True):
    """In which units a reader means a bare number, and which mark begins her decimals."""

    weight_unit: WeightUnit = "g"
    volume_unit: VolumeUnit = "mL"
    temperature_unit: TemperatureUnit = "C"
    decimal_mark: DecimalMark = "."


class _Unit(msgspec.Struct, frozen=True, kw_only=True):
    """A unit: its sign, how people write it, and how a value in it becomes the stored one."""

    sign: str
    spellings: str
    store: Callable[[Decimal], Decimal]


_GRAM = _Unit(sign="g", spellings=r"g|gr|gm|gms|gram(?:me)?s?|gramos?", store=lambda n: n)
_KILOGRAM = _Unit(
    sign="kg",
    spellings=r"kgs?|kilos?|kilogram(?:me)?s?|kilogramos?",
    store=lambda n: n * GRAMS_PER_KILOGRAM,
)
_POUND = _Unit(sign="lb", spellings=r"lbs?\.?|pounds?|libras?", store=lambda n: n * GRAMS_PER_POUND)
_OUNCE = _Unit(sign="oz", spellings=r"ozs?\.?|ounces?|onzas?", store=lambda n: n * GRAMS_PER_OUNCE)
_WEIGHT_UNITS = (_GRAM, _KILOGRAM, _POUND, _OUNCE)

_VOLUME_UNITS = (
    _Unit(sign="mL", spellings=r"mls?|cc|ccm|millilit(?:er|re)s?|mililitros?", store=lambda n: n),
    _Unit(
        sign="US fl oz",
        spellings=r"(?:us )?(?:fl\.? ?)?(?:ozs?\.?|ounces?|onzas?)|fluid ounces?",
        store=lambda n: n * ML_PER_FLUID_OUNCE,
    ),
    _Unit(sign="cL", spellings=r"cl", store=lambda n: n * ML_PER_CENTILITRE),
    _Unit(sign="L", spellings=r"l|lit(?:er|re)s?|litros?", store=lambda n: n * ML_PER_LITRE),
)
_BARE_VOLUME_UNITS = _VOLUME_UNITS[:2]

_TEMPERATURE_UNITS = (
    _Unit(sign="°C", spellings=r"°? ?c|celsius|centigrade|centígrados", store=lambda n: n),
    _Unit(sign="°F", spellings=r"°? ?f|fahrenheit", store=c_from_f),
)
_LENGTH_UNITS = (
    _Unit(sign="cm", spellings=r"cms?|centimet(?:er|re)s?|centímetros?", store=lambda n: n),
    _Unit(
        sign="in",
        spellings=r'ins?\.?|inch(?:es)?|"|pulgadas?',
        store=lambda n: n * CM_PER_INCH,
    ),
    _Unit(
        sign="mm", spellings=r"mms?|millimet(?:er|re)s?|milímetros?", store=lambda n: n / MM_PER_CM
    ),
    _Unit(sign="m", spellings=r"m|met(?:er|re)s?|metros?", store=lambda n: n * CM_PER_METRE),
)
_BARE_LENGTH_UNITS = _LENGTH_UNITS[:2]

_POUNDS_OUNCES = re.compile(
    rf"({NUMERAL}) ?(?:{_POUND.spellings}),? ?(?:and |y )?({NUMERAL}) ?(?:{_OUNCE.spellings})?"
)
_BARE_POUNDS_OUNCES = re.compile(r"(\d+)[.,](\d{1,2})")


def read_weight(
    text: str,
    limits: ReadingLimits,
    *,
    reader_unit: WeightUnit = "g",
    decimal_mark: DecimalMark = ".",
) -> Reading:
    """A weight in g.

    A bare number is clear in the reader's unit, or in grams; in any other unit it is asked about.
    Under the reader's unit ``lb oz`` every bare number but grams is asked about, since 7.4 may be
    pounds or pounds and ounces.

    Raises:
        InputError: READ-001 not readable, READ-002 impossible, READ-006 fractional pounds beside
            ounces.
    """
    tidied = tidy(text)
    span = (limits.weight_low_g.value, limits.weight_high_g.value)
    if compound := _POUNDS_OUNCES.fullmatch(tidied):
        return _read_pounds_ounces(text, compound[1], compound[2], span, decimal_mark)
    sure: set[str] = {"g", reader_unit}
    possible = _possible(tidied, _WEIGHT_UNITS, _WEIGHT_UNITS, sure, decimal_mark)
    if reader_unit == "lb oz" and (pair := _BARE_POUNDS_OUNCES.fullmatch(tidied)):
        pounds, ounces = Decimal(pair[1]), Decimal(pair[2])
        if ounces < OUNCES_PER_POUND:
            grams = pounds * GRAMS_PER_POUND + ounces * GRAMS_PER_OUNCE
            read_as = _pounds_ounces(pounds, ounces, grams)
            possible.insert(
                0, Possible(value=grams, read_as=read_as, is_usual=True, has_unit=False)
            )
    return resolve(text, "weight", "g", possible, span)


def _read_pounds_ounces(
    text: str, pounds: str, ounces: str, span: tuple[float, float], decimal_mark: DecimalMark
) -> Reading:
    """Pounds and ounces; 16 ounces or more beside pounds are asked about."""
    doubts: list[Problem] = []
    possible: list[Possible] = []
    for whole in readings(pounds, decimal_mark):
        for part in readings(ounces, decimal_mark):
            if whole.value != whole.value.to_integral_value():
                raise InputError(
                    Problem(
                        code="READ-006",
                        what=message("'{text}'", text=text),
                        why=message(
                            "has a fraction of a pound as well as ounces, which can be read two"
                            " ways."
                        ),
                        fix=message("Write whole pounds and ounces, for example 7 lb 4.5 oz."),
                    )
                )
            grams = whole.value * GRAMS_PER_POUND + part.value * GRAMS_PER_OUNCE
            if part.value >= OUNCES_PER_POUND:
                doubts.append(_ounces_doubt(text, part.value, grams))
            read_as = _pounds_ounces(whole.value, part.value, grams)
            possible.append(
                Possible(
                    value=grams,
                    read_as=read_as,
                    is_usual=whole.is_usual and part.is_usual,
                    has_unit=True,
                )
            )
    reading = resolve(text, "weight", "g", possible, span)
    return msgspec.structs.replace(reading, doubts=(*doubts, *reading.doubts))


def _pounds_ounces(pounds: Decimal, ounces: Decimal, grams: Decimal) -> Message:
    return message(
        "{pounds} lb {ounces} oz = {grams} g",
        pounds=shown(pounds),
        ounces=shown(ounces),
        grams=shown(grams),
    )


def _ounces_doubt(text: str, ounces: Decimal, grams: Decimal) -> Problem:
    return Problem(
        code="READ-005",
        what=message("'{text}'", text=text),
        why=message(
            "has {ounces} oz as well as pounds, and a pound has {most}.",
            ounces=shown(ounces),
            most=OUNCES_PER_POUND,
        ),
        fix=message("Confirm {grams} g, or correct the ounces.", grams=shown(grams)),
        doubtful=True,
    )


def read_volume(
    text: str,
    limits: ReadingLimits,
    *,
    reader_unit: VolumeUnit = "mL",
    decimal_mark: DecimalMark = ".",
) -> Reading:
    """A volume in mL; an ounce is a US fluid ounce. A bare number is in the reader's unit.

    Raises:
        InputError: READ-001 not readable, READ-002 impossible.
    """
    sign = {"mL": "mL", "fl oz": "US fl oz"}[reader_unit]
    possible = _possible(tidy(text), _VOLUME_UNITS, _BARE_VOLUME_UNITS, {sign}, decimal_mark)
    return resolve(text, "volume", "mL", possible, (0.0, limits.volume_high_ml.value))


def read_temperature(
    text: str,
    limits: ReadingLimits,
    *,
    reader_unit: TemperatureUnit = "C",
    decimal_mark: DecimalMark = ".",
) -> Reading:
    """A body temperature in °C. A bare number possible only in the other unit is asked about.

    Raises:
        InputError: READ-001 not readable, READ-002 impossible.
    """
    span = (limits.temperature_low_c.value, limits.temperature_high_c.value)
    units = _TEMPERATURE_UNITS
    possible = _possible(tidy(text), units, units, {f"°{reader_unit}"}, decimal_mark)
    return resolve(text, "temperature", "Cel", possible, span)


def read_length(
    text: str,
    limits: ReadingLimits,
    *,
    reader_unit: LengthUnit = "cm",
    decimal_mark: DecimalMark = ".",
) -> Reading:
    """A length or a head circumference in cm.

    Raises:
        InputError: READ-001 not readable, READ-002 impossible.
    """
    span = (limits.length_low_cm.value, limits.length_high_cm.value)
    possible = _possible(tidy(text), _LENGTH_UNITS, _BARE_LENGTH_UNITS, {reader_unit}, decimal_mark)
    return resolve(text, "length", "cm", possible, span)


_GESTATION = re.compile(
    r"(\d+) ?(?:\+|w(?:ee)?ks?|w|sem(?:anas?)?|/40)?(?: ?[+,]?(?:and |y )? ?(\d+) ?(?:/ ?7)?"
    r" ?(?:d(?:ays?|ías?|ias?)?|/40)?)?"
)
_GESTATION_DECIMAL = re.compile(r"(\d+)[.,](\d+) ?(?:w(?:ee)?ks?|w|sem(?:anas?)?)?")
_GESTATION_DAYS = re.compile(r"(\d+) ?(?:d|days?|días?|dias?)")


def read_gestation(text: str, limits: ReadingLimits) -> Reading:
    """A gestation in completed days: ``38+2``, ``38w2d``, ``38 weeks``, ``38 2/7``, ``268 days``.

    A decimal such as 38.5 is asked about: 38 weeks and 5 days, or half a week?

    Raises:
        InputError: READ-001 not readable, READ-002 impossible, READ-007 for more than 6 days.
    """
    tidied = tidy(text)
    span = (limits.gestation_low_d.value, limits.gestation_high_d.value)
    if days := _GESTATION_DAYS.fullmatch(tidied):
        return resolve(text, "gestation", "d", [_weeks_days(0, Decimal(days[1]))], span)
    if decimals := _GESTATION_DECIMAL.fullmatch(tidied):
        weeks = int(decimals[1])
        share = Decimal(f"0.{decimals[2]}") * DAYS_PER_WEEK
        tail = Decimal(decimals[2])
        either = {int(share), *([int(tail)] if tail < DAYS_PER_WEEK else [])}
        guesses = [
            _weeks_days(weeks, Decimal(day), has_unit=share == 0)
            for day in sorted(either, reverse=True)
        ]
        return resolve(text, "gestation", "d", guesses, span)
    if not (written := _GESTATION.fullmatch(tidied)):
        raise InputError(unreadable(text, "gestation"))
    day = Decimal(written[2] or 0)
    if day >= DAYS_PER_WEEK:
        raise InputError(
            Problem(
                code="READ-007",
                what=message("'{text}'", text=text),
                why=message(
                    "has {days} days as well as weeks, and a week has at most {most} over.",
                    days=str(day),
                    most=DAYS_PER_WEEK,
                ),
                fix=message("Write weeks and 0 to 6 days, for example 38+2."),
            )
        )
    possible = [_weeks_days(int(written[1]), day)]
    if tidied.isdecimal():
        possible.append(_weeks_days(0, Decimal(tidied), has_unit=False))
    return resolve(text, "gestation", "d", possible, span)


def _weeks_days(weeks: int, days: Decimal, *, has_unit: bool = True) -> Possible:
    """A gestation that a text may mean."""
    total = weeks * DAYS_PER_WEEK + days
    # Whole numbers: a decimal of more digits than its context has cannot be divided.
    over_weeks, over_days = divmod(int(total), DAYS_PER_WEEK)
    read_as = message(
        "{weeks} weeks {days} days = {total} d",
        weeks=over_weeks,
        days=over_days,
        total=str(total),
    )
    return Possible(value=total, read_as=read_as, is_usual=True, has_unit=has_unit)


_HOURS_MINUTES = re.compile(
    rf"(?:({NUMERAL}) ?(?:h(?:ou)?rs?|h|horas?))?(?: ?(?:and |y )?({NUMERAL}) ?(?:m(?:in)?s?\.?|minut[eo]s?|['′])?)?"
    r"(?: ?(?<!\d)(\d+) ?(?:s(?:ec)?s?|seconds?|segundos?))?"
)
_CLOCK = re.compile(r"(\d+):(\d\d)")


def read_duration(text: str, limits: ReadingLimits, *, decimal_mark: DecimalMark = ".") -> Reading:
    """A duration in minutes: ``20``, ``20 min``, ``1 h 30``, ``1.5 h``; ``1:30`` is asked about.

    Raises:
        InputError: READ-001 not readable, READ-002 impossible.
    """
    tidied = tidy(text)
    span = (0.0, limits.duration_high_minutes.value)
    if clock := _CLOCK.fullmatch(tidied):
        whole, part = Decimal(clock[1]), Decimal(clock[2])
        return resolve(
            text,
            "duration",
            "min",
            [
                _minutes(whole * MINUTES_PER_HOUR + part, f"{whole} h {part} min"),
                _minutes(whole + part / SECONDS_PER_MINUTE, f"{whole} min {part} s"),
            ],
            span,
        )
    written = _HOURS_MINUTES.fullmatch(tidied) if tidied else None
    if written is None:
        raise InputError(unreadable(text, "duration"))
    seconds = Decimal(written[3] or 0) / SECONDS_PER_MINUTE
    possible = [
        Possible(
            value=hours.value * MINUTES_PER_HOUR + minutes.value + seconds,
            read_as=message(
                "{number} {unit}",
                number=shown(hours.value * MINUTES_PER_HOUR + minutes.value + seconds),
                unit="min",
            ),
            is_usual=hours.is_usual and minutes.is_usual,
            has_unit=True,
        )
        for hours in readings(written[1] or "0", decimal_mark)
        for minutes in readings(written[2] or "0", decimal_mark)
    ]
    return resolve(text, "duration", "min", possible, span)


def _minutes(value: Decimal, written: str) -> Possible:
    return Possible(
        value=value,
        read_as=message(
            "{written} = {number} {unit}", written=written, number=shown(value), unit="min"
        ),
        is_usual=True,
        has_unit=False,
    )


def read_quantity(name: str, text: str, limits: ReadingLimits, habits: Habits) -> Reading:
    """A text read as a quantity of :mod:`suffice.clinical.reading.quantity`.

    Raises:
        InputError: READ-001 to READ-007, as the quantity's own reader.
    """
    mark = habits.decimal_mark
    if name == "weight":
        return read_weight(text, limits, reader_unit=habits.weight_unit, decimal_mark=mark)
    if name == "volume":
        return read_volume(text, limits, reader_unit=habits.volume_unit, decimal_mark=mark)
    if name == "temperature":
        unit = habits.temperature_unit
        return read_temperature(text, limits, reader_unit=unit, decimal_mark=mark)
    if name == "length":
        return read_length(text, limits, decimal_mark=mark)
    if name == "gestation":
        return read_gestation(text, limits)
    if name == "duration":
        return read_duration(text, limits, decimal_mark=mark)
    return _read_scaled(name, text, limits, mark)


def _read_scaled(name: str, text: str, limits: ReadingLimits, mark: DecimalMark) -> Reading:
    """A quantity whose units differ by a factor; a bare number is asked about where two are possible.

    Raises:
        InputError: READ-001 not readable, READ-002 impossible.
    """
    quantity = QUANTITIES[name]
    units = tuple(
        _Unit(
            sign=unit.sign,
            spellings="|".join(re.escape(tidy(one)) for one in unit.spellings.split("|")),
            store=_scaling(limits.constant(unit.factor) if unit.factor else None),
        )
        for unit in quantity.units
    )
    most = limits.constant(quantity.most)
    if most is None:
        raise InputError(unreadable(text, name))
    possible = _possible(tidy(text), units, units, set(), mark)
    return resolve(text, name, quantity.stored, possible, (0.0, most.value))


def _scaling(factor: Constant | None) -> Callable[[Decimal], Decimal]:
    """What brings a number into the stored unit."""
    by = Decimal(1) if factor is None else Decimal(repr(factor.value))
    return lambda number: number * by


def _possible(
    tidied: str,
    units: tuple[_Unit, ...],
    bare_units: tuple[_Unit, ...],
    sure_signs: set[str],
    decimal_mark: DecimalMark,
) -> list[Possible]:
    """Every value the text may mean, before asking what is possible; empty when unreadable.

    The first of `units` is the stored one.
    """
    for unit in units:
        if match := re.fullmatch(rf"({NUMERAL}) ?(?:{unit.spellings})", tidied):
            return [
                _taken(unit, one.value, units[0].sign, is_usual=one.is_usual, has_unit=True)
                for one in readings(match[1], decimal_mark)
            ]
    if not re.fullmatch(NUMERAL, tidied):
        return []
    found = [
        _taken(
            unit, one.value, units[0].sign, is_usual=one.is_usual, has_unit=unit.sign in sure_signs
        )
        for one in readings(tidied, decimal_mark)
        for unit in bare_units
    ]
    return sorted(found, key=lambda one: not (one.has_unit and one.is_usual))


def _taken(
    unit: _Unit, number: Decimal, stored_sign: str, *, is_usual: bool, has_unit: bool
) -> Possible:
    """One numeral in one unit, stored."""
    stored = unit.store(number)
    read_as = message("{number} {unit}", number=shown(number), unit=unit.sign)
    if stored != number:
        read_as = message(
            "{written} = {number} {unit}", written=read_as, number=shown(stored), unit=stored_sign
        )
    return Possible(value=stored, read_as=read_as, is_usual=is_usual, has_unit=has_unit)
