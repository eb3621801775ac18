"""What the reader says about a CSV file, and what she must be asked before it can be read."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime, time
from typing import Final
from uuid import UUID

import msgspec

from suffice.clinical.entry import Birth, Record
from suffice.clinical.entry.field import Moment
from suffice.clinical.reading.numeral import DecimalMark
from suffice.errors import InputError, Problem
from suffice.exchange.moment import (
    DateOrder,
    RepeatedHour,
    ambiguous_date,
    date_order,
    is_bare_date,
    read_time,
)
from suffice.exchange.table.cells import decimal_mark
from suffice.exchange.table.columns import DECLARED, UNITS, Column, Field
from suffice.exchange.table.file import Table
from suffice.exchange.table.times import TRIPLES, cells_of, lacks_time
from suffice.knowledge.policy import Language
from suffice.message import Listed, Message, Number, Words, message

_MOMENTS: Final = tuple(first for first, one in DECLARED.items() if isinstance(one.field, Moment))
"""Columns that hold an instant of their own, such as that since when a sign is there."""


class CsvOptions(msgspec.Struct, frozen=True, kw_only=True):
    """What the reader says about a file. None and '' mean 'not said'.

    Attributes:
        zone: IANA time zone of the clocks that the file's times were read from.
        entered_by: The user who imports.
        entered_at: The instant of the import.
        source: The name under which the infants of this file are kept; the same name and infant
            again is the same family. Needed unless the file is for one family on the record.
        columns: What columns mean, by name; see columns.columns_of.
        time_of_day: The local time of rows (and births) that have a date only, such as ``12:00``.
        born_at: The birth that ages are counted from in a file without birth dates. It is invented,
            and a note in each record says so.
        first_is_birth_weight: Whether a weight at age 0 is the birth weight too; it often is not.
        over_h: The hours that a count of wets or stools covers where the file does not say.
        leave_out_bad_rows: Leave out rows that cannot be read or cannot be, and import the rest;
            otherwise one keeps everything out. A doubtful value is not bad: it is asked about.
        leave_out_doubtful_rows: Leave out rows with doubtful values. Never a matter of course: a
            deep loss is doubtful too, and is what the infant most in need of help has.
        accept_doubtful: Whether the reader was shown the doubtful values and confirmed them.
        infants: For a family with several: the infant that each text in the infant column means.
        language: That of the note which says that a birth was declared: it is kept as it is written.
    """

    zone: str
    entered_by: str
    entered_at: datetime
    source: str = ""
    encoding: str | None = None
    delimiter: str | None = None
    decimal_mark: DecimalMark | None = None
    columns: dict[str, str] = {}
    date_order: DateOrder | None = None
    repeated_hour: RepeatedHour | None = None
    time_of_day: str | None = None
    born_at: datetime | None = None
    first_is_birth_weight: bool = False
    over_h: float | None = None
    leave_out_bad_rows: bool = False
    leave_out_doubtful_rows: bool = False
    accept_doubtful: bool = False
    infants: dict[str, UUID] = {}
    language: Language = "en"

    def leaves_out(self, problem: Problem) -> bool:
        """Whether a row with that problem is left out, and the rest imported."""
        if problem.doubtful:
            return self.leave_out_doubtful_rows and not self.accept_doubtful
        return self.leave_out_bad_rows


class Conventions(msgspec.Struct, frozen=True, kw_only=True):
    """How the file writes, settled by its own cells or by the reader."""

    decimal_mark: DecimalMark
    date_order: DateOrder | None
    time_of_day: time | None
    shown_by: tuple[Words, ...]
    """The cells that settle it, for the preview."""


def by_field(columns: Iterable[Column]) -> dict[str, Column]:
    """The columns that are read, by what they mean."""
    return {column.field: column for column in columns if column.field is not Field.IGNORED}


def by_name(infants: Iterable[tuple[UUID | None, str]]) -> dict[str, UUID]:
    """The infants of a family by name: a name that two of them bear means neither."""
    named: dict[str, set[UUID]] = {}
    for infant_id, name in infants:
        if infant_id is not None:
            named.setdefault(name, set()).add(infant_id)
    return {name: ids.pop() for name, ids in named.items() if len(ids) == 1}


ORDERS: Final[Mapping[DateOrder, Message]] = {
    "day first": message("the day first, since the file has {date}"),
    "month first": message("the month first, since the file has {date}"),
}


def settle(
    table: Table, columns: Iterable[Column], options: CsvOptions, family: Record | None
) -> Conventions:
    """How the file writes; asks, in one go, whatever neither it nor the reader says.

    Raises:
        InputError: CSV-011, CSV-012, CLOCK-006 and CSV-030 to CSV-039; every question.
    """
    conventions, questions = settled_so_far(table, columns, options, family)
    if questions:
        raise InputError(*questions)
    return conventions


def settled_so_far(
    table: Table, columns: Iterable[Column], options: CsvOptions, family: Record | None
) -> tuple[Conventions, tuple[Problem, ...]]:
    """How the file writes as far as that is known, and every question that is open."""
    found = by_field(columns)
    questions = [
        *_hours_questions(options),
        *_time_questions(table, found, options, family),
        *_count_questions(table, found, options),
        *_family_questions(found, options, family),
    ]
    mark, marks_shown = decimal_mark(
        cell for field in UNITS if field in found for cell in cells_of(table, found[field])
    )
    if options.decimal_mark is None and mark is None:
        questions.append(_two_marks(marks_shown))
    order, order_shown, asked = _order(table, found, options)
    questions += asked
    at = None
    try:
        at = read_time(options.time_of_day) if options.time_of_day else None
    except InputError as error:
        questions += error.problems
    conventions = Conventions(
        decimal_mark=options.decimal_mark or mark or ".",
        date_order=order,
        time_of_day=at,
        shown_by=tuple(one for one in (order_shown, mark and marks_shown) if one),
    )
    return conventions, tuple(questions)


def _order(
    table: Table, found: dict[str, Column], options: CsvOptions
) -> tuple[DateOrder | None, Words, list[Problem]]:
    """The order of day and month in all date columns together, and what shows it."""
    fields = (*(field for triple in TRIPLES for field in triple), *_MOMENTS)
    cells = [cell for field in fields if field in found for cell in cells_of(table, found[field])]
    if options.date_order is not None:
        return options.date_order, "", []
    try:
        order, shown = date_order(cells)
    except InputError as error:
        return None, "", list(error.problems)
    if order is None and shown:
        return None, "", [ambiguous_date(shown)]
    return order, ORDERS[order].with_params(date=shown) if order else "", []


def _time_questions(
    table: Table, found: dict[str, Column], options: CsvOptions, family: Record | None
) -> list[Problem]:
    questions = []
    if not {Field.MOMENT, Field.DATE, Field.AGE} & set(found):
        questions.append(_no_time(table.header))
    bare: list[str] = [
        day
        for day, clock, _moment in TRIPLES
        if day in found and clock not in found and lacks_time(cells_of(table, found[day]))
    ]
    bare += [
        field
        for field in (Field.MOMENT, Field.BIRTH_MOMENT, *_MOMENTS)
        if field in found and any(map(is_bare_date, cells_of(table, found[field])))
    ]
    if options.time_of_day is None:
        questions += [_no_time_of_day(found[field].header) for field in bare]
    has_birth = bool({Field.BIRTH_DATE, Field.BIRTH_MOMENT} & set(found))
    # Whose family it is on the record is seen row by row.
    on_record = _has_birth(family) or Field.FAMILY in found
    born = has_birth or options.born_at is not None or on_record
    needs_birth = {Field.AGE, Field.SEX, Field.GESTATION, Field.BIRTH_WEIGHT} & set(found)
    if needs_birth and not born:
        questions.append(_no_birth([found[field].header for field in sorted(needs_birth)]))
    if options.born_at is not None and (has_birth or on_record):
        questions.append(_two_births(has_birth=has_birth))
    return questions


def _has_birth(family: Record | None) -> bool:
    return family is not None and any(isinstance(entry.fact, Birth) for entry in family.entries)


def _hours_questions(options: CsvOptions) -> list[Problem]:
    if options.over_h is None or (math.isfinite(options.over_h) and options.over_h > 0):
        return []
    return [
        _question(
            "CSV-039",
            message("Counts are said to cover {hours} hours.", hours=Number(options.over_h)),
            message("A count covers some hours before it."),
            message("Say how many, for example 24."),
            message("over hours"),
        )
    ]


def _count_questions(table: Table, found: dict[str, Column], options: CsvOptions) -> list[Problem]:
    questions = [
        _no_hours(found[field].header)
        for field in (Field.WETS, Field.STOOLS)
        if field in found
        and found[field].over_h is None
        and options.over_h is None
        and any(cell != "1" for cell in cells_of(table, found[field]))
    ]
    if Field.VOLUME in found and Field.MILK not in found:
        questions.append(_no_milk(found[Field.VOLUME].header))
    return questions


def _family_questions(
    found: dict[str, Column], options: CsvOptions, family: Record | None
) -> list[Problem]:
    if Field.FAMILY in found:
        return []
    if family is None:
        return [] if options.source.strip() else [_no_source()]
    if len(family.infants) > 1 and Field.INFANT not in found:
        return [_which_infant(len(family.infants))]
    return []


def _question(code: str, what: Words, why: Words, fix: Words, where: Words) -> Problem:
    return Problem(code=code, what=what, why=why, fix=fix, where=where)


def _no_time(header: tuple[str, ...]) -> Problem:
    return _question(
        "CSV-030",
        message("None of the columns {names} says when.", names=Listed(tuple(header))),
        message("Each value was true at some time."),
        message("Say which column has a date, a date and time, or an age, for example 'age days'."),
        message("columns"),
    )


def _no_time_of_day(header: str) -> Problem:
    return _question(
        "CSV-031",
        message("The column '{name}' has dates without a time of day.", name=header),
        message("In the first days hours count, so a time is not made up."),
        message("Say at what local time these dates are to be taken, for example 12:00."),
        message("time of day"),
    )


def _no_birth(headers: list[str]) -> Problem:
    return _question(
        "CSV-032",
        message("The file has {names} and no date of birth.", names=Listed(tuple(headers))),
        message("Birth facts and ages depend on the time of birth."),
        message(
            "Add a column with the date of birth, or declare one birth from which ages are counted."
        ),
        message("born"),
    )


def _two_births(*, has_birth: bool) -> Problem:
    return _question(
        "CSV-033",
        message("A birth was declared for a file that needs none."),
        message("The file has dates of birth.")
        if has_birth
        else message("The family's birth is on the record."),
        message("Leave the declared birth out."),
        message("born"),
    )


def _no_source() -> Problem:
    return _question(
        "CSV-034",
        message("It is not said what this file's infants are called together."),
        message(
            "Numbers such as 1, 2, 3 come in many files; under one name a second import adds to the"
            " same families, under another it opens new ones."
        ),
        message("Give the source a name, for example 'ward 4, spring'."),
        message("source"),
    )


def _which_infant(count: int) -> Problem:
    return _question(
        "CSV-035",
        message(
            "The family has {infants} infants and the file has no column that says which.",
            infants=count,
        ),
        message("Each value is about one infant."),
        message("Add a column 'infant' with 1 for the first-born, 2 for the second."),
        message("columns"),
    )


def _no_hours(header: str) -> Problem:
    return _question(
        "CSV-036",
        message(
            "The column '{name}' has counts and does not say over how many hours.", name=header
        ),
        message("Six wets in a day and six in a shift are different findings."),
        message("Name the column like 'wets_24h', or say the hours."),
        message("over hours"),
    )


def _no_milk(header: str) -> Problem:
    return _question(
        "CSV-037",
        message("The column '{name}' has volumes and does not say of which milk.", name=header),
        message("Expressed milk, donor milk and formula are different feeds."),
        message("Add a column 'milk', or say what the column means, for example 'formula mL'."),
        message("columns"),
    )


def _two_marks(shown: Words) -> Problem:
    return _question(
        "CSV-038",
        message("The file has {cells}.", cells=shown),
        message("One has a point before the decimals and the other a comma."),
        message("Say which mark begins decimals, or write all numbers alike."),
        message("decimal mark"),
    )
