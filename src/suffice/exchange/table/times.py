"""When a row was true, where its date and its time may stand in one cell, in two, or in both.

The name of a column says 'date' of many things: spreadsheets write a time behind it, or a midnight
that nobody meant; a column 'time' may hold a whole date, or the day zero of a spreadsheet before its
time. What a column holds is therefore taken from its cells, not from its name alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import msgspec

from suffice.clinical.structure import EARLIEST
from suffice.errors import InputError, Problem
from suffice.exchange.moment import DateOrder, parted, read_date, read_time
from suffice.exchange.table.columns import Column, Field
from suffice.exchange.table.file import Table, is_missing
from suffice.message import message

TRIPLES: Final = (
    (Field.DATE, Field.TIME, Field.MOMENT),
    (Field.BIRTH_DATE, Field.BIRTH_TIME, Field.BIRTH_MOMENT),
)
"""A date, the time that belongs to it, and both in one."""


def cells_of(table: Table, column: Column) -> list[str]:
    """The different cells of a column that are not missing, in their order."""
    cells = dict.fromkeys(row.cells[column.index] for row in table.rows)
    return [cell for cell in cells if not is_missing(cell)]


def as_held(table: Table, columns: Sequence[Column]) -> tuple[Column, ...]:
    """The columns, a lone date or time among them read as both where its cells hold both.

    A time that is midnight in every cell is no time: programs write it behind dates of their own
    accord.
    """
    found = {column.field: column for column in columns}
    both: dict[int, Field] = {}
    for day, clock, moment in TRIPLES:
        if moment in found or (day in found and clock in found):
            continue
        alone = found.get(day) or found.get(clock)
        if alone is None:
            continue
        cells = cells_of(table, alone)
        if any(map(_has_own_time, cells)) or (alone.field == clock and any(map(_has_both, cells))):
            both[alone.index] = moment
    return tuple(
        msgspec.structs.replace(column, field=both[column.index])
        if column.index in both
        else column
        for column in columns
    )


def lacks_time(cells: Iterable[str]) -> bool:
    """Whether a column of dates has a cell that says no time of day."""
    return any(_is_date(day) and not clock for day, clock in map(without_midnight, cells))


def without_midnight(cell: str) -> tuple[str, str]:
    """The date and the time of a cell of dates; a bare midnight counts as no time."""
    day, clock = parted(cell)
    return (day, "") if _is_midnight(clock) else (day, clock)


def day_and_clock(day: str, clock: str, order: DateOrder | None) -> tuple[str, str]:
    """The date and the time of a row that has a cell for each, whatever else the cells repeat.

    Args:
        day: The cell of the date; the time may stand there too.
        clock: The cell of the time; '' when it is missing. The date may stand there too.
        order: How the file writes day and month.

    Returns:
        The date, and the time or ''. An offset of the one cell that has it stays behind the time.

    Raises:
        InputError: CSV-051, when the cells name two dates or two times.
    """
    on, own_clock = without_midnight(day)
    repeated_day, at = parted(clock)
    if not at:
        repeated_day, at = "", clock
    if repeated_day and not _same_day(repeated_day, on, order):
        raise InputError(_differs(day, clock))
    if own_clock and at and not _same_time(own_clock, at):
        raise InputError(_differs(day, clock))
    return on, own_clock or at


def _has_own_time(cell: str) -> bool:
    return _has_both(cell) and bool(without_midnight(cell)[1])


def _has_both(cell: str) -> bool:
    day, clock = parted(cell)
    return bool(clock) and _is_date(day) and not _is_day_zero(day)


def _is_date(text: str) -> bool:
    for order in ("day first", "month first"):
        try:
            read_date(text, order)
        except InputError as error:
            if error.problems[0].code == "CLOCK-004":
                return True  # a date, of a year that cannot be
            continue
        return True
    return False


def _is_day_zero(text: str) -> bool:
    """Whether a date is one that a spreadsheet writes before a time that has none."""
    digits = text.strip()[:4]
    if text.strip() in {"1900-01-00", "1900-01-01", "1904-01-01", "1/0/1900", "1/1/1900"}:
        return True
    return (digits.isdigit() and int(digits) < EARLIEST.year) or text.strip().endswith("1899")


def _is_midnight(clock: str) -> bool:
    bare = clock.strip().rstrip("zZ").strip()
    if bare.endswith("+00:00"):
        bare = bare.removesuffix("+00:00")
    try:
        return bool(bare) and str(read_time(bare)) == "00:00:00"
    except InputError:
        return False


def _same_day(one: str, other: str, order: DateOrder | None) -> bool:
    return _is_day_zero(one) or one == other or read_date(one, order) == read_date(other, order)


def _same_time(one: str, other: str) -> bool:
    """Whether two times name the same minute; seconds may be missing in one of them."""
    if one == other:
        return True
    first, second = read_time(one), read_time(other)
    return (first.hour, first.minute) == (second.hour, second.minute)


def _differs(day: str, clock: str) -> Problem:
    return Problem(
        code="CSV-051",
        what=message("The row says '{day}' and '{clock}'.", day=day, clock=clock),
        why=message("Both give a date or a time of day, and they are not the same."),
        fix=message("Correct the one that is wrong, or say that one of the columns is 'ignored'."),
    )
