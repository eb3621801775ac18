"""The rows of a log as ordinary entries, all of them or none.

A row is an hour, and nobody knows the minute: what was ticked is entered as of its middle. What was not
ticked is not 'none', unless the family says that everything was written down.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Final, Literal
from uuid import UUID, uuid5

import msgspec

from suffice.care.family.recording import record_following
from suffice.clinical.entry import (
    AnyFact,
    Basis,
    Entry,
    Expression,
    Feed,
    FeedCount,
    Record,
    Side,
    Stool,
    Wet,
    standing,
)
from suffice.clinical.units import HOURS_PER_DAY
from suffice.errors import InputError, Problem
from suffice.exchange.local_time import read_local
from suffice.inference.home_log import grid
from suffice.message import Instant, message

DEVICE: Final = "log of a day"
"""Stands in each entry as that with which it was recorded."""
Milk = Literal["expressed", "donor", "formula"]
MILKS: Final[tuple[Milk, ...]] = ("expressed", "donor", "formula")
Colour = Literal["black", "green", "yellow"]
COLOURS: Final[tuple[Colour, ...]] = ("black", "green", "yellow")


class LogRow(msgspec.Struct, frozen=True, kw_only=True):
    """What one hour of the sheet says.

    Attributes:
        row: From 0, the first hour of the sheet.
        left: How often the left breast was given.
        right: How often the right breast was given.
        milk_ml: Milk given otherwise; None where no amount is written.
        milks: Which milk that was.
        pumped_left_ml: Expressed from the left; None where nothing is written.
        pumped_right_ml: The same from the right.
        wets: How many wet diapers.
        stools: How many dirty diapers of each colour.
    """

    row: int
    left: int = 0
    right: int = 0
    milk_ml: float | None = None
    milks: tuple[Milk, ...] = ()
    pumped_left_ml: float | None = None
    pumped_right_ml: float | None = None
    wets: int = 0
    stools: tuple[tuple[Colour, int], ...] = ()

    @property
    def is_fed(self) -> bool:
        """Whether anything was fed in that hour."""
        return bool(self.left or self.right or self.milks or self.milk_ml is not None)


class Log(msgspec.Struct, frozen=True, kw_only=True):
    """A sheet as somebody typed it.

    Attributes:
        key: Client-made id; the entries have theirs from it, so a second press adds nothing.
        infant_id: Of whom.
        on: The date of the first row, on the clinic's calendar.
        zone: The clinic's time zone.
        rows: The rows in which anything was ticked or written.
        is_whole: Whether the family says that all of these 24 hours is on it.
    """

    key: UUID
    infant_id: UUID
    on: date
    zone: str
    rows: tuple[LogRow, ...]
    is_whole: bool = False


class Placed(msgspec.Struct, frozen=True):
    """An entry, and the row that it comes from; None for what is said of the whole sheet."""

    entry: Entry
    row: int | None


def placed(log: Log, *, now: datetime, actor: str) -> tuple[Placed, ...]:
    """The entries of a log, each with its row.

    Args:
        log: The sheet.
        now: The instant of entering.
        actor: Who enters it.

    Raises:
        InputError: LOG-001 to LOG-004, every one with its row in `where`; CLOCK-002 where the clock skips an
            hour of the sheet.
    """
    problems = list(_problems(log, now))
    if problems:
        raise InputError(*problems)
    found: list[Placed] = []
    for row in log.rows:
        start = _hour(log, row.row)
        at = min(start + timedelta(hours=1) / 2, now)
        end = min(start + timedelta(hours=1), now)
        facts = [*_feeds(row), *_expressions(row), *_diapers(row)]
        for number, fact in enumerate(facts):
            when = end if getattr(fact, "over_h", None) else at
            found.append(Placed(_entry(log, fact, when, now, actor, row.row, number), row.row))
    if log.is_whole:
        end = _hour(log, grid.ROWS - 1) + timedelta(hours=1)
        for number, fact in enumerate(_of_whole(log)):
            found.append(Placed(_entry(log, fact, end, now, actor, grid.ROWS, number), None))
    return tuple(found)


def save_log(
    family_id: UUID, entries: tuple[Placed, ...], *, now: datetime, confirmed: bool = False
) -> None:
    """Put the entries of a log on the record, all or none.

    Args:
        family_id: The family.
        entries: As :func:`placed` made them.
        now: The instant of entering.
        confirmed: True when whoever enters it has confirmed doubtful values.

    Raises:
        InputError: LOG-005, doubtful, where a log of these hours is on the record already; codes of
            plausibility, each with the place of its entry.
        StorageError: RECORD-009.
    """

    def once(record: Record) -> tuple[Entry, ...]:
        there = {one.id for one in record.entries}
        if all(one.entry.id in there for one in entries):
            return ()
        twice = entered_before(record, entries)
        if twice is not None and not confirmed:
            raise InputError(twice)
        return tuple(one.entry for one in entries)

    record_following(family_id, once, now=now, confirmed=confirmed)


def entered_before(record: Record, entries: tuple[Placed, ...]) -> Problem | None:
    """The question whether a log of the same hours is meant to be entered once more."""
    own = {one.entry.id for one in entries}
    times = [one.entry.true_at for one in entries]
    infants = {one.entry.infant_id for one in entries} - {None}
    earlier = [
        one
        for one in standing(record.entries)
        if one.device == DEVICE
        and one.id not in own
        and one.infant_id in infants
        and min(times) <= one.true_at <= max(times)
    ]
    if not earlier:
        return None
    return Problem(
        code="LOG-005",
        what=message(
            "{count} entry of a log of these hours is on the record, entered {at}.",
            plural="{count} entries of a log of these hours are on the record, entered {at}.",
            count=len(earlier),
            at=Instant(earlier[-1].entered_at, year=True),
        ),
        why=message("Entered twice, each feed and each diaper would count twice."),
        fix=message("Save it only where it is another sheet."),
        doubtful=True,
    )


# ---- what a row says -------------------------------------------------------------------------


def _feeds(row: LogRow) -> Iterator[AnyFact]:
    both = min(row.left, row.right)
    counts: tuple[tuple[Side, int], ...] = (
        ("both", both),
        ("left", row.left - both),
        ("right", row.right - both),
    )
    for side, count in counts:
        yield from (Feed(milk="breast", side=side) for _feed in range(count))
    for milk in row.milks:
        # Of two milks in one hour the sheet has one amount: whose it is nobody knows.
        yield Feed(milk=milk, volume_ml=row.milk_ml if len(row.milks) == 1 else None)


def _expressions(row: LogRow) -> Iterator[AnyFact]:
    if row.pumped_left_ml is not None or row.pumped_right_ml is not None:
        yield Expression(left_ml=row.pumped_left_ml, right_ml=row.pumped_right_ml)


def _diapers(row: LogRow) -> Iterator[AnyFact]:
    if row.wets:
        yield Wet(count=row.wets, over_h=None if row.wets == 1 else 1.0)
    for colour, count in row.stools:
        if count:
            yield Stool(count=count, over_h=None if count == 1 else 1.0, colour=colour)


def _of_whole(log: Log) -> Iterator[AnyFact]:
    """What is known once everything was written down: how many feeds, and what there was none of."""
    yield FeedCount(count=sum(one.is_fed for one in log.rows))
    if not any(one.wets for one in log.rows):
        yield Wet(count=0, over_h=HOURS_PER_DAY)
    if not any(count for one in log.rows for _colour, count in one.stools):
        yield Stool(count=0, over_h=HOURS_PER_DAY)


def _entry(
    log: Log, fact: AnyFact, at: datetime, now: datetime, actor: str, row: int, number: int
) -> Entry:
    return Entry(
        id=uuid5(log.key, f"{row}/{number}"),
        fact=fact,
        basis=Basis.REPORTED,
        true_at=at,
        entered_at=now,
        entered_by=actor,
        infant_id=None if isinstance(fact, Expression) else log.infant_id,
        device=DEVICE,
    )


def _hour(log: Log, row: int) -> datetime:
    """When a row begins; of an hour that the clock shows twice the first."""
    hour = grid.hour_of(row)
    on = log.on if hour >= grid.FIRST_HOUR else log.on + timedelta(days=1)
    return read_local(f"{on.isoformat()}T{hour:02}:00", log.zone).instants[0]


# ---- what is wrong ---------------------------------------------------------------------------


def _problems(log: Log, now: datetime) -> Iterator[Problem]:
    if not log.rows:
        yield Problem(
            code="LOG-004",
            what=message("Nothing is ticked."),
            why=message("A log without a tick says nothing."),
            fix=message("Tick what is on the sheet."),
        )
    for row in log.rows:
        hour = f"{grid.hour_of(row.row)}:00"
        if row.milk_ml is not None and not row.milks:
            yield Problem(
                code="LOG-001",
                what=message("From {hour}: mL of milk, and not which milk.", hour=hour),
                why=message("Own milk, donor milk and formula count differently."),
                fix=message("Ask which it was, or take the amount away."),
                where=f"milk-{row.row}",
            )
        if row.milk_ml is not None and len(row.milks) > 1:
            yield Problem(
                code="LOG-002",
                what=message("From {hour}: one amount and several milks.", hour=hour),
                why=message("How much there was of each is not on the sheet."),
                fix=message("Leave one milk, or leave the amount open."),
                where=f"milk-{row.row}",
            )
        if _hour(log, row.row) > now:
            yield _ahead(hour, f"left-{row.row}")
    if log.is_whole and _hour(log, grid.ROWS - 1) + timedelta(hours=1) > now:
        yield _ahead(f"{grid.hour_of(grid.ROWS - 1)}:00", "is_whole")


def _ahead(hour: str, where: str) -> Problem:
    return Problem(
        code="LOG-003",
        what=message("The row from {hour} is still to come.", hour=hour),
        why=message("Nothing is entered of the future."),
        fix=message("Check the date of the first row."),
        where=where,
    )
