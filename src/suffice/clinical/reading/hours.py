"""Reads hours of the clock as people write them: '22:00-06:30', '8.30 to 17', '6pm-12am, 5-7am'."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

import msgspec

from suffice.clinical.units import HOURS_PER_DAY, MINUTES_PER_HOUR

DAY_MINUTES: Final = round(HOURS_PER_DAY * MINUTES_PER_HOUR)
NOON_H: Final = 12
"""Where the hours of a 12-hour clock begin again."""


class Hours(msgspec.Struct, frozen=True, order=True):
    """A stretch of the clock, in minutes since midnight; its end is beyond 1440 where it passes midnight."""

    starts_minutes: int
    ends_minutes: int

    @property
    def minutes(self) -> int:
        """How long it is."""
        return self.ends_minutes - self.starts_minutes

    def __str__(self) -> str:
        return f"{time_of_day_text(self.starts_minutes)}-{time_of_day_text(self.ends_minutes)}"


def hours_of(text: str | None) -> tuple[Hours, ...]:
    """The stretches of a text, in order of their beginnings; none where it is empty.

    A stretch whose end is not after its beginning passes midnight; one from an hour to the same hour is
    the whole day.

    Raises:
        ValueError: A part of the text says no hours; the error holds that part.
    """
    parts = [part.strip() for part in _PARTED.split(text or "") if part.strip()]
    return tuple(sorted(_stretch(part) for part in parts))


def overlapping(hours: Iterable[Hours]) -> tuple[Hours, Hours] | None:
    """Two of the stretches that share a time of day; None where no two do."""
    every = sorted(hours)
    for index, one in enumerate(every):
        for other in every[index + 1 :]:
            if {*minutes_of(one)} & {*minutes_of(other)}:
                return one, other
    return None


def minutes_of(hours: Hours) -> Iterable[int]:
    """The minutes of the day that a stretch covers, each from 0 up to 1439."""
    return (minute % DAY_MINUTES for minute in range(hours.starts_minutes, hours.ends_minutes))


def time_of_day_text(minutes: int) -> str:
    """A time of day as a 24-hour clock writes it; the end of a day is 24:00."""
    of_day = minutes if minutes == DAY_MINUTES else minutes % DAY_MINUTES
    hour, minute = divmod(of_day, round(MINUTES_PER_HOUR))
    return f"{hour:02}:{minute:02}"


_PARTED: Final = re.compile(r"[,;\n]|\band\b|\by\b")
_TIME: Final = r"(\d{1,2})(?:[:.h](\d{2}))?\s*([ap])?\.?\s?(?:m\.?)?"
_STRETCH: Final = re.compile(
    rf"(?:from |de )?{_TIME}\s*h?\s*(?:-|\N{{EN DASH}}|to|until|a|hasta)\s*{_TIME}\s*h?",
    re.IGNORECASE,
)


def _stretch(part: str) -> Hours:
    found = _STRETCH.fullmatch(part)
    if found is None:
        raise ValueError(part)
    first, first_rest, first_half, last, last_rest, last_half = found.groups()
    starts = _minutes(first, first_rest, first_half, part)
    stops = _minutes(last, last_rest, last_half, part)
    if last_half and not first_half:
        # '6-9pm' is after noon on both sides, '10-2pm' begins before it.
        starts = _minutes(first, first_rest, last_half, part)
        if starts >= stops:
            other = "a" if last_half.lower() == "p" else "p"
            starts = _minutes(first, first_rest, other, part)
    if starts == DAY_MINUTES:
        starts = 0
    if stops <= starts:
        stops += DAY_MINUTES
    return Hours(starts, stops)


def _minutes(hour: str, minute: str | None, half: str | None, part: str) -> int:
    hours, minutes = int(hour), int(minute or 0)
    if half is not None:
        if not 1 <= hours <= NOON_H:
            raise ValueError(part)
        hours = hours % NOON_H + (NOON_H if half.lower() == "p" else 0)
    total = hours * round(MINUTES_PER_HOUR) + minutes
    if minutes >= MINUTES_PER_HOUR or total > DAY_MINUTES:
        raise ValueError(part)
    return total
