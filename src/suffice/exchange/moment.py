"""Local dates and times into instants: the one reader, for forms, tables and the command line.

What is ambiguous is asked, never guessed. 03/04/2026 is in March or in April: the file's own other
dates decide, or the reader, never habit. A clock that is set back shows an hour twice, one that is
set forward skips an hour: the first is asked about, the second refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from functools import lru_cache
from typing import Literal
from zoneinfo import ZoneInfo

import msgspec

from suffice.clinical.structure import EARLIEST, LATEST
from suffice.clinical.zone import is_zone, no_zone
from suffice.errors import InputError, Problem
from suffice.message import Day, Message, message

DateOrder = Literal["day first", "month first"]
RepeatedHour = Literal["first", "second"]

_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january ene enero",
            "feb february febrero",
            "mar march marzo",
            "apr april abr abril",
            "may mayo",
            "jun june junio",
            "jul july julio",
            "aug august ago agosto",
            "sep sept september septiembre setiembre",
            "oct october octubre",
            "nov november noviembre",
            "dec december dic diciembre",
        ),
        start=1,
    )
    for name in names.split()
}
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})")
YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4})")
_SHORT_YEAR = re.compile(r"\d{1,2}([-/.])\d{1,2}\1\d{2}")
_DAY_NAMED = re.compile(r"(\d{1,2})\.?[- ](?:de )?([^\W\d_]+)\.?,?[- ](?:de )?(\d{4})")
_NAMED_DAY = re.compile(r"([^\W\d_]+)\.? (\d{1,2}),? (\d{4})")
_TIME = re.compile(
    r"(\d{1,2})(?:[:.h](\d{2})(?:[:.](\d{2})(?:[.,](\d+))?)?)? ?(h|[ap]\.? ?m\.?)?", re.IGNORECASE
)
_OFFSET = re.compile(
    r"(.*\d[tT ]\d[\d:.,]*(?: ?[ap]\.? ?m\.?)?) ?(z|utc|gmt|[+-]\d{2}(?::?\d{2})?)", re.IGNORECASE
)
_NAMED_ZONE = re.compile(r".*\d{1,2}:\d{2}\S* ?\(?[a-z]{3,5}\)?|.*[a-z]+/[a-z_]+\]?", re.IGNORECASE)
_SERIAL = re.compile(r"\d{5}(?:[.,]\d+)?|[01]?[.,]\d{2,}")
"""A date or a time as a spreadsheet counts it: days since 1900, and parts of a day."""


def date_order(cells: Iterable[str]) -> tuple[DateOrder | None, str]:
    """In what order a column writes day and month, and the date that shows it.

    Returns:
        The order with a date that can be read in no other; None with a date that can be read both
        ways where none settles it, and None with '' where no date leaves the question open.

    Raises:
        InputError: CSV-012, when the column holds dates of either order.
    """
    shown: dict[DateOrder, str] = {}
    undecided = ""
    for cell in cells:
        numeric = YEAR_LAST.match(cell)
        if numeric is None:
            continue
        first, second = int(numeric[1]), int(numeric[3])
        if first > 12 >= second:
            shown.setdefault("day first", cell)
        elif second > 12 >= first:
            shown.setdefault("month first", cell)
        elif first != second:
            undecided = undecided or cell
    if len(shown) > 1:
        raise InputError(_mixed_order(*shown.values()))
    for order, cell in shown.items():
        return order, cell
    return None, undecided


@lru_cache(maxsize=4096)
def read_date(text: str, order: DateOrder | None) -> date:
    """A calendar date: 2026-03-25, 25/3/2026, 25 Mar 2026, March 25, 2026.

    Raises:
        InputError: CLOCK-001 cannot be read, CLOCK-004 its year cannot be, CSV-011 may be two dates.
    """
    tidy = " ".join(text.split())
    if found := _YEAR_FIRST.fullmatch(tidy):
        return _date(text, int(found[1]), int(found[3]), int(found[4]))
    if found := YEAR_LAST.fullmatch(tidy):
        first, second, year = int(found[1]), int(found[3]), int(found[4])
        if order is None and first != second and first <= 12 and second <= 12:
            raise InputError(ambiguous_date(text))
        month_first = order == "month first" or (order is None and second > 12)
        return _date(text, year, *((first, second) if month_first else (second, first)))
    if _SHORT_YEAR.fullmatch(tidy):
        raise InputError(_unreadable(text, message("writes the year with two digits.")))
    if _SERIAL.fullmatch(tidy):
        raise InputError(_serial("CLOCK-001", text))
    for pattern, (day, month) in ((_DAY_NAMED, (1, 2)), (_NAMED_DAY, (2, 1))):
        found = pattern.fullmatch(tidy)
        if found and found[month].casefold() in _MONTHS:
            return _date(text, int(found[3]), _MONTHS[found[month].casefold()], int(found[day]))
    raise InputError(_unreadable(text, message("cannot be read as a date.")))


def is_bare_date(text: str) -> bool:
    """Whether a cell holds a date and no time, in whatever order the date is written."""
    for order in ("day first", "month first"):
        try:
            read_date(text, order)
        except InputError:
            continue
        return True
    return False


def _date(text: str, year: int, month: int, day: int) -> date:
    try:
        on = date(year, month, day)
    except ValueError as error:
        raise InputError(_unreadable(text, message("is no day of the calendar."))) from error
    check_year(text, on)
    return on


def check_year(text: str, on: date) -> None:
    """Refuse a year that no record can hold.

    Raises:
        InputError: CLOCK-004.
    """
    if not EARLIEST.year <= on.year < LATEST.year:
        raise InputError(
            Problem(
                code="CLOCK-004",
                what=message("'{text}'", text=text),
                why=message(
                    "is of no year from {first} to {last}.",
                    first=EARLIEST.year,
                    last=LATEST.year - 1,
                ),
                fix=message("Is the year right? Correct it."),
            )
        )


@lru_cache(maxsize=4096)
def read_time(text: str) -> time:
    """A time of day: 14:30, 14:30:15, 14:30:15.25, 14h30, 2:30 pm, 2 pm; to the microsecond.

    Raises:
        InputError: CLOCK-006.
    """
    tidy = " ".join(text.split())
    found = _TIME.fullmatch(tidy)
    if _SERIAL.fullmatch(tidy):
        raise InputError(_serial("CLOCK-006", text))
    if _NAMED_ZONE.fullmatch(tidy):
        raise InputError(_zone_by_name(text))
    if found is None or (found[2] is None and found[5] is None):
        raise InputError(_unreadable_time(text))
    hour, half = int(found[1]), (found[5] or "").casefold().replace(".", "").replace(" ", "")
    if half in {"am", "pm"}:
        if not 1 <= hour <= 12:
            raise InputError(_unreadable_time(text))
        hour = hour % 12 + 12 * (half == "pm")
    try:
        microsecond = int((found[4] or "")[:6].ljust(6, "0"))
        return time(hour, int(found[2] or 0), int(found[3] or 0), microsecond)
    except ValueError as error:
        raise InputError(_unreadable_time(text)) from error


def read_moment(
    text: str, zone: str, order: DateOrder | None, repeated: RepeatedHour | None
) -> datetime:
    """A date and a time in one cell, as an instant in UTC; an offset in the text is obeyed.

    Raises:
        InputError: CLOCK-001 to CLOCK-006, CSV-011.
    """
    tidy = " ".join(text.split())
    if found := _OFFSET.fullmatch(tidy):
        return _with_offset(text, found, order)
    day, time_of_day = parted(tidy)
    if not time_of_day:
        raise InputError(_unreadable_time(text))
    return instant(read_date(day, order), read_time(time_of_day), zone, repeated)


def has_offset(text: str) -> bool:
    """Whether a cell with a date and a time says its offset from UTC."""
    return _OFFSET.fullmatch(" ".join(text.split())) is not None


def parted(text: str) -> tuple[str, str]:
    """The date and the time of one cell; the time is '' where there is none."""
    found = re.fullmatch(r"(.*\d{4}|\d{4}[-/.]\d{1,2}[-/.]\d{1,2})(?:,? |[tT])(\d.*)", text)
    return (found[1], found[2]) if found else (text, "")


def instant(day: date, at: time, zone: str, repeated: RepeatedHour | None) -> datetime:
    """The instant, in UTC, at which a clock in `zone` shows a date and a time.

    Raises:
        InputError: CLOCK-002, when the clocks were set forward over it; CLOCK-003, when they were
            set back over it and it is not said which of the two is meant.
    """
    real = Moment.from_local(datetime.combine(day, at), zone, OR_WITH_OFFSET).instants
    if len(real) > 1 and repeated is None:
        fix = message(
            "Say whether the first or the second is meant, or write it with its offset from UTC."
        )
        raise InputError(twice(datetime.combine(day, at), zone, fix))
    return real[-1] if repeated == "second" else real[0]


OR_WITH_OFFSET = message("Correct the time, or write it with its offset from UTC.")


class Moment(msgspec.Struct, frozen=True, kw_only=True):
    """What a local time may mean: one instant, or two where the clock shows it twice."""

    instants: tuple[datetime, ...]
    zone: str

    @classmethod
    def from_local(cls, local: datetime, zone: str, fix: Message) -> Moment:
        """The instants at which a clock in `zone` shows a time.

        Raises:
            InputError: CLOCK-002, with `fix`, where the clocks were set forward over it.
        """
        place = ZoneInfo(zone)
        both = {local.replace(tzinfo=place, fold=fold).astimezone(UTC) for fold in (0, 1)}
        real = sorted(one for one in both if one.astimezone(place).replace(tzinfo=None) == local)
        if not real:
            raise InputError(
                Problem(
                    code="CLOCK-002",
                    what=_as_a_clock_shows(local),
                    why=message(
                        "did not exist in {zone}: the clocks were set forward over it.", zone=zone
                    ),
                    fix=fix,
                )
            )
        return cls(instants=tuple(real), zone=zone)

    @property
    def is_ambiguous(self) -> bool:
        """Whether the clock shows this time twice."""
        return len(self.instants) > 1

    @property
    def local(self) -> datetime:
        """The time as the clock shows it."""
        return self.instants[0].astimezone(ZoneInfo(self.zone))

    def clock_times(self) -> tuple[str, ...]:
        """Each instant with the name of the zone's time and its offset, the earlier first."""
        place = ZoneInfo(self.zone)
        return tuple(
            f"{local:%H:%M} {local.tzname()} (UTC{local:%z})"
            for local in (instant.astimezone(place) for instant in self.instants)
        )


def read_instant(text: str, zone: str, *, option: str = "--as-of") -> datetime:
    """An instant as it is typed on a command line: with its offset, or local time of `zone`.

    Args:
        text: ISO 8601 with a time of day, ``2026-03-28T09:30`` or ``2026-03-28T09:30+01:00``.
        zone: IANA time zone.
        option: The option it was typed for.

    Raises:
        InputError: CLOCK-001 when it cannot be read, CLOCK-002 and CLOCK-003 when the clocks
            skipped that hour or showed it twice, CLOCK-004 when its year cannot be, CLOCK-005 when
            there is no such zone.
    """
    try:
        return _typed_instant(text, zone)
    except InputError as error:
        raise InputError(
            *(one if one.where else one.at(option) for one in error.problems)
        ) from None


def _typed_instant(text: str, zone: str) -> datetime:
    instant = iso_time(text.strip())
    if instant is None:
        raise InputError(
            Problem(
                code="CLOCK-001",
                what=message("'{text}'", text=text),
                why=message("is not a date and time: an age in hours needs the time of day."),
                fix=message(
                    "Write it like 2026-03-28T09:30, or with its offset, 2026-03-28T09:30+01:00."
                ),
            )
        )
    check_year(text, instant)
    if instant.tzinfo is not None:
        return instant
    if not is_zone(zone):
        raise InputError(no_zone(zone, where="--zone"))
    moment = Moment.from_local(instant, zone, OR_WITH_OFFSET)
    if moment.is_ambiguous:
        fix = message("Add the offset that you mean, for example +01:00.")
        raise InputError(twice(instant, zone, fix))
    return moment.local


def iso_time(text: str) -> datetime | None:
    """A date with a time of day in ISO 8601; None for anything else.

    A bare date would be read as midnight, which nobody wrote.
    """
    try:
        return datetime.fromisoformat(text) if {"T", "t", " "} & set(text) else None
    except ValueError:
        return None


def _with_offset(text: str, found: re.Match[str], order: DateOrder | None) -> datetime:
    day, clock = parted(found[1])
    offset = "+00:00" if found[2].casefold() in {"z", "utc", "gmt"} else found[2]
    on, at = read_date(day, order), read_time(clock)
    try:
        whole = datetime.fromisoformat(f"{on.isoformat()}T{at.isoformat()}{offset}")
    except ValueError as error:
        raise InputError(
            _unreadable(text, message("cannot be read as a date and time."))
        ) from error
    check_year(text, whole)
    return whole.astimezone(UTC)


def check_zone(zone: str) -> None:
    """Refuse a time zone that is not one.

    Raises:
        InputError: CLOCK-005.
    """
    if not is_zone(zone):
        raise InputError(no_zone(zone, where="zone"))


def ambiguous_date(text: str) -> Problem:
    """The problem of a date that may be of either order."""
    return Problem(
        code="CSV-011",
        what=message("'{text}' may be two dates.", text=text),
        why=message(
            "Day and month can both be a month, and no other date of the column settles it."
        ),
        fix=message("Say whether the day or the month comes first."),
        where=message("date order"),
    )


def _as_a_clock_shows(local: datetime) -> Message:
    """A date and a time, in the order of whoever reads it."""
    return message("{day}, {time}", day=Day(local.date(), year=True), time=f"{local:%H:%M}")


def twice(local: datetime, zone: str, fix: Message) -> Problem:
    """The problem of a time that came twice, when the clocks were set back."""
    return Problem(
        code="CLOCK-003",
        what=_as_a_clock_shows(local),
        why=message("came twice in {zone}: the clocks were set back over it.", zone=zone),
        fix=fix,
    )


def _mixed_order(day_first: str, month_first: str) -> Problem:
    return Problem(
        code="CSV-012",
        what=message(
            "The column has '{day_first}' and '{month_first}'.",
            day_first=day_first,
            month_first=month_first,
        ),
        why=message("One has the day first and the other the month, so the rest may be either."),
        fix=message("Write all dates in one order, best as 2026-03-25."),
        where=message("date order"),
    )


def _unreadable(text: str, why: Message) -> Problem:
    return Problem(
        code="CLOCK-001",
        what=message("'{text}'", text=text),
        why=why,
        fix=message("Write it like 2026-03-25."),
    )


def _serial(code: str, text: str) -> Problem:
    return Problem(
        code=code,
        what=message("'{text}'", text=text),
        why=message("is a date or a time as a spreadsheet counts it, a number."),
        fix=message("Format the column as date and time there, and save the file as CSV again."),
    )


def _zone_by_name(text: str) -> Problem:
    return Problem(
        code="CLOCK-006",
        what=message("'{text}'", text=text),
        why=message("names its time zone, and such names mean different zones."),
        fix=message("Leave the name out, or write the offset from UTC, like 14:30+01:00."),
    )


def _unreadable_time(text: str) -> Problem:
    return Problem(
        code="CLOCK-006",
        what=message("'{text}'", text=text),
        why=message("has no time of day that can be read."),
        fix=message("Write it like 14:30 or 2:30 pm."),
    )
