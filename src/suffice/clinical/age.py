"""How old an infant is, right across a change of clocks.

Three words, each with one meaning:

- **age** (`age_h`, `age_d`) is elapsed time since the instant of birth: an hour is an hour, and
  a day is 24 of them. Clinical limits are asked of this one.
- **day** (`day_of_life`) counts 24-hour periods since birth; day 1 is the first 24 hours. The
  tables of feeds and output are read with it. The trade's 'day 0' is our day 1.
- **calendar age** (`calendar_age_d`) is the difference of two local dates, 0 on the date of
  birth: what a family counts in, and what growth standards use when the hour is not known.

Corrected age is an age, moved by the gestation. Instants are aware; they are taken to UTC before
they are subtracted, because subtraction within one zone ignores that zone's clock changes.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import ClassVar
from zoneinfo import ZoneInfo

from suffice.clinical.parameters import Parameters
from suffice.clinical.units import HOURS_PER_DAY, SECONDS_PER_HOUR
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import InputError, Problem, RefusalError
from suffice.message import Amount, Instant, Message, dated, message

MONTHS_PER_YEAR = 12


class AgeParameters(Parameters, frozen=True, kw_only=True):
    """What corrected age needs."""

    topic: ClassVar[str] = "age"

    term_days: Constant
    """Gestation at which corrected age is 0 (40 completed weeks)."""
    preterm_before_days: Constant
    """Gestation below which an age is corrected (37 completed weeks)."""
    correct_until_days: Constant
    """Age up to which an age is corrected."""


def elapsed_h(start: datetime, end: datetime) -> float:
    """Hours from `start` to `end`, elapsed; negative when `end` is earlier.

    Args:
        start: Aware instant.
        end: Aware instant.

    Raises:
        InputError: AGE-001 when an instant has no offset from UTC.
    """
    if start.tzinfo is UTC and end.tzinfo is UTC:  # as the record keeps them
        return (end - start).total_seconds() / SECONDS_PER_HOUR
    for instant in (start, end):
        if instant.tzinfo is None or instant.utcoffset() is None:
            raise InputError(
                Problem(
                    code="AGE-001",
                    what=message("the time {instant}", instant=instant.isoformat(sep=" ")),
                    why=message("has no time zone, so its age in hours cannot be known."),
                    fix=message("Give the time zone, for example Europe/Madrid."),
                )
            )
    seconds = (end.astimezone(UTC) - start.astimezone(UTC)).total_seconds()
    return seconds / SECONDS_PER_HOUR


def age_h(born_at: datetime, at: datetime) -> float:
    """Age in hours.

    Raises:
        InputError: AGE-001 without a time zone, AGE-002 when `at` is before birth.
    """
    hours = elapsed_h(born_at, at)
    if hours < 0:
        raise InputError(
            Problem(
                code="AGE-002",
                what=dated(at),
                why=message(
                    "is before birth ({birth}).",
                    birth=Instant(born_at, year=True),
                ),
                fix=message("Correct the time of the entry, or the time of birth."),
            )
        )
    return hours


def age_d(born_at: datetime, at: datetime) -> float:
    """Age in days of 24 hours. Raises as :func:`age_h`."""
    return age_h(born_at, at) / HOURS_PER_DAY


def day_of_life(hours: float) -> int:
    """The 24-hour period since birth that an age in hours falls in; day 1 is the first.

    Raises:
        InputError: AGE-002 for a negative age.
    """
    if hours < 0:
        raise InputError(
            Problem(
                code="AGE-002",
                what=message("an age of {hours}", hours=Amount(hours, "h", decimals=1)),
                why=message("is before birth."),
                fix=message("Correct the time of the entry, or the time of birth."),
            )
        )
    return int(hours // HOURS_PER_DAY) + 1


def calendar_age_d(born_at: datetime, at: datetime, zone: str) -> int:
    """Difference of the two local dates in an IANA zone; 0 on the date of birth."""
    place = ZoneInfo(zone)
    return (at.astimezone(place).date() - born_at.astimezone(place).date()).days


def months_after_birth(born_at: datetime, months: int, zone: str) -> datetime:
    """The instant at which an infant is so many calendar months old: the day of the month begins.

    Where the month has no such day (a third month after the 30th of November) it is the first of
    the next one.

    Args:
        born_at: Aware instant of birth.
        months: Whole months.
        zone: IANA zone in which the dates are read.
    """
    place = ZoneInfo(zone)
    born = born_at.astimezone(place).date()
    years, month = divmod(born.month - 1 + months, MONTHS_PER_YEAR)
    first = date(born.year + years, month + 1, 1)
    later, month = divmod(first.month, MONTHS_PER_YEAR)
    following = date(first.year + later, month + 1, 1)
    last_day = (following - first).days
    day = first.replace(day=born.day) if born.day <= last_day else following
    return datetime.combine(day, time(), tzinfo=place)


def corrected_age_d(gestation_days: int, hours: float, parameters: AgeParameters) -> Figure:
    """Corrected age in days: age less the days born before term; negative before term.

    Raises:
        RefusalError: AGE-003 for an infant not born preterm, or past the age of correction: there
            the age itself is the one to use.
    """
    age_days = hours / HOURS_PER_DAY
    if gestation_days >= parameters.preterm_before_days.value:
        raise RefusalError(
            _not_corrected(message("is not used here: the infant was not born preterm."))
        )
    if age_days > parameters.correct_until_days.value:
        raise RefusalError(
            _not_corrected(
                message(
                    "is not used here: the infant is past the age up to which age is corrected."
                )
            )
        )
    return Figure(
        value=age_days - (parameters.term_days.value - gestation_days),
        unit="d",
        working=Working(
            formula=message("corrected age = age - (term - gestation at birth)"),
            inputs=(
                Quantity(name=message("gestation at birth"), value=gestation_days, unit="d"),
                Quantity(name=message("age"), value=hours, unit="h"),
            ),
            constants=(
                parameters.term_days,
                parameters.preterm_before_days,
                parameters.correct_until_days,
            ),
        ),
    )


def _not_corrected(why: Message) -> Problem:
    return Problem(
        code="AGE-003",
        what=message("a corrected age"),
        why=why,
        fix=message("Use the age since birth."),
    )
