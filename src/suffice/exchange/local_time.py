"""Local times in the clinic's order of day, month and year: as a form shows them and takes them back.

The dates of a clinic are written in one order, so nothing is guessed and nothing is asked: a date of
another order is refused, and one that begins with its year is read alike everywhere.
"""

from __future__ import annotations

import re
from datetime import date, datetime

from suffice.errors import InputError, Problem
from suffice.exchange.moment import (
    YEAR_LAST,
    Moment,
    check_year,
    iso_time,
    parted,
    read_date,
    read_time,
)
from suffice.knowledge.policy import DateOrder
from suffice.message import Words, message

_DIGITS = re.compile(r"\d{8}")
_ONLY_DIGITS = re.compile(r"(\d{8}),? ?(\d.*)")
_IN_TWO = re.compile(r"(\S*\d) (\d.*)")
_NUMBERS: dict[DateOrder, str] = {
    "day first": "%d/%m/%Y",
    "month first": "%m/%d/%Y",
    "year first": "%Y-%m-%d",
}
_EXAMPLE = datetime(2026, 11, 25, 14, 30)  # noqa: DTZ001  # shown, never computed with


def read_local(text: str, zone: str, order: DateOrder = "year first") -> Moment:
    """A local time as a form sends it, such as ``2026-11-25T14:30``, or in the clinic's order.

    Args:
        text: ISO 8601 in every order; else numbers in `order` alone. An offset is not taken.
        zone: IANA time zone.
        order: The clinic's order: 25/11/2026 14:30, 11/25/2026 14:30 or 2026-11-25 14:30.

    Raises:
        InputError: CLOCK-001 when it cannot be read, CLOCK-002 when the clock skipped it,
            CLOCK-004 when its year cannot be.
    """
    return Moment.from_local(
        local_time(text, order),
        zone,
        message("Enter the time as the clock showed it after the change."),
    )


def local_time(text: str, order: DateOrder) -> datetime:
    """What a clock shows, without its zone, as ``read_local`` reads it.

    What a number keypad types without marks is taken too: 251120261430 where the day is first.

    Raises:
        InputError: CLOCK-001, CLOCK-004.
    """
    tidy = " ".join(text.split())
    local = iso_time(tidy.replace(" ", "T"))
    if local is None or local.tzinfo is not None:
        day, clock = _parts(tidy)
        try:
            local = datetime.combine(read_day(day, order), read_time(clock))
        except InputError as refusal:
            problem = refusal.problems[0]
            if problem.code == "CLOCK-004":
                raise
            is_day = day and clock and problem.code == "CLOCK-001"
            why = problem.why if is_day else message("cannot be read as a date and a time.")
            raise InputError(_written_otherwise(text, why, written(_EXAMPLE, order))) from None
    check_year(text, local)
    return local


def read_day(text: str, order: DateOrder) -> date:
    """A date in the clinic's order, or one that every order reads alike; never one of another order.

    Raises:
        InputError: CLOCK-001, CLOCK-004.
    """
    tidy = " ".join(text.split())
    if _DIGITS.fullmatch(tidy):
        first, second = (4, 6) if order == "year first" else (2, 4)
        tidy = f"{tidy[:first]}/{tidy[first:second]}/{tidy[second:]}"
    example = written(_EXAMPLE.date(), order)
    if order == "year first" and YEAR_LAST.fullmatch(tidy):
        why = message("does not have the year first.")
        raise InputError(_written_otherwise(text, why, example))
    try:
        return read_date(tidy, None if order == "year first" else order)
    except InputError as refusal:
        problem = refusal.problems[0]
        if problem.code == "CLOCK-004":
            raise
        raise InputError(_written_otherwise(text, problem.why, example)) from None


def written(local: date, order: DateOrder) -> str:
    """A date, or a date with its time, in numbers as the clinic orders them; ``read_local`` reads it back.

    Seconds and their parts stand there only where they are not 0.
    """
    day = f"{local:{_NUMBERS[order]}}"
    if not isinstance(local, datetime):
        return day
    spec = "microseconds" if local.microsecond % 1000 else "milliseconds"
    if not local.microsecond:
        spec = "seconds" if local.second else "minutes"
    return f"{day} {local.time().isoformat(timespec=spec)}"


def _parts(tidy: str) -> tuple[str, str]:
    """The date and the time of a text; four digits alone are hours and minutes."""
    found = _ONLY_DIGITS.fullmatch(tidy)
    day, clock = (found[1], found[2]) if found else parted(tidy)
    if not clock and (found := _IN_TWO.fullmatch(tidy)):
        day, clock = found[1], found[2]
    return day, f"{clock[:2]}:{clock[2:]}" if re.fullmatch(r"\d{4}", clock) else clock


def _written_otherwise(text: str, why: Words, example: str) -> Problem:
    return Problem(
        code="CLOCK-001",
        what=message("'{text}'", text=text),
        why=why,
        fix=message("Write it like {example}.", example=example),
    )
