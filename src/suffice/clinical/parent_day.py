"""Whether the hours of a parent's day can be: each is read, none overlap, and they fit into a day."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from suffice.clinical.entry.parent_day import ParentDay
from suffice.clinical.reading.hours import (
    DAY_MINUTES,
    Hours,
    hours_of,
    minutes_of,
    overlapping,
)
from suffice.clinical.units import HOURS_PER_DAY, MINUTES_PER_HOUR
from suffice.errors import Problem
from suffice.message import Message, Number, message

FIELDS: Final = ("sleep_between", "away", "helpers")
"""The fields that hold hours."""
WRITE: Final = message("Write it like 22:00-06:00, several apart by a comma.")


def parent_day_problems(fact: ParentDay) -> list[Problem]:
    """Everything that cannot be about the hours of a parent's day; empty where nothing is odd."""
    found: list[Problem] = []
    read: dict[str, tuple[Hours, ...]] = {}
    for name in FIELDS:
        try:
            read[name] = hours_of(getattr(fact, name))
        except ValueError as error:
            found.append(_unreadable(str(error), name))
            continue
        found += _overlap(read[name], name)
    if not found:
        found += _sums(fact, read)
    return found


def _unreadable(part: str, where: str) -> Problem:
    return Problem(
        code="HOURS-001",
        what=f"'{part[:40]}'",
        why=message("cannot be read as hours of the clock."),
        fix=WRITE,
        where=where,
    )


def _overlap(hours: tuple[Hours, ...], where: str) -> Iterator[Problem]:
    two = overlapping(hours)
    if two is not None:
        yield Problem(
            code="HOURS-002",
            what=message("{one} and {other}", one=str(two[0]), other=str(two[1])),
            why=message("overlap, so it is not clear which hours are meant."),
            fix=message("Write them as one stretch, or correct one of them."),
            where=where,
        )


def _sums(fact: ParentDay, read: dict[str, tuple[Hours, ...]]) -> Iterator[Problem]:
    """Sleep and being away against the hours of a day, and sleep against the hours it may have."""
    away = {minute for one in read["away"] for minute in minutes_of(one)}
    wished = (fact.sleep_h or 0.0) * MINUTES_PER_HOUR
    # More sleep than a day has is refused as such: it has nothing to do with hours away.
    if away and wished + len(away) > DAY_MINUTES:
        yield Problem(
            code="HOURS-003",
            what=_in_h(wished + len(away)),
            why=message(
                "of sleep and being away are more than the {hours} h of a day.",
                hours=Number(HOURS_PER_DAY),
            ),
            fix=message("Correct the hours, or the sleep wished for."),
            where="away",
        )
        return
    between = {minute for one in read["sleep_between"] for minute in minutes_of(one)} - away
    longest = _longest(between)
    if read["sleep_between"] and wished > longest:
        yield Problem(
            code="HOURS-004",
            what=_in_h(wished),
            why=message(
                "of sleep do not fit between those hours: in one piece there is room for {room}.",
                room=_in_h(longest),
            ),
            fix=message("Correct the hours, or the sleep wished for."),
            where="sleep_between",
        )


def _longest(minutes: set[int]) -> int:
    """The longest stretch of minutes, round the clock."""
    if len(minutes) == DAY_MINUTES:
        return DAY_MINUTES
    longest = run = 0
    for minute in range(2 * DAY_MINUTES):
        run = run + 1 if minute % DAY_MINUTES in minutes else 0
        longest = max(longest, run)
    return longest


def _in_h(minutes: float) -> Message:
    return message("{hours} h", hours=Number(round(minutes / MINUTES_PER_HOUR, 1)))
