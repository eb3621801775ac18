"""A CSV file of weights, feeds and output into entries: previewed first, then whole or not at all.

Three shapes are read: many rows of one family that is on the record; rows of several such families, which
a column names; and a cohort whose rows name their infant in a column: each infant of a cohort becomes a
family of one. The ids of what is made
follow from the source, the infant and the content, so that the same file, or a longer one of the
same source, can be imported again and adds only what is new.

Reading is pure: care asks for a :class:`Preview`, shows it, then asks for the :class:`CsvImport`
and puts its records on the record in one transaction. See docs/reference/csv-import.md.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import islice
from uuid import UUID

import msgspec

from suffice.clinical.entry import Record
from suffice.clinical.reading.reading import ReadingLimits
from suffice.errors import InputError, Problem
from suffice.exchange.family.family_json import Checker, nothing_implausible
from suffice.exchange.moment import check_zone
from suffice.exchange.table.columns import Column, columns_of, guess
from suffice.exchange.table.families import (
    Families,
    FamilyRows,
    assemble_families,
    family_rows,
    names_families,
    of_one_family,
)
from suffice.exchange.table.file import Table, read_table
from suffice.exchange.table.options import CsvOptions, settle, settled_so_far
from suffice.exchange.table.records import Assembler, Known
from suffice.exchange.table.rows import RowFacts, RowReader
from suffice.exchange.table.times import as_held
from suffice.message import Words, message

PREVIEWED_ROWS = 8
ASKS_OF_ROWS = {"CSV-030": "CSV-041", "CSV-031": "CSV-041", "CSV-032": "CSV-045"}
"""A question about the file, and the problem of a row that its answer takes away."""
PROGRESS_EVERY = 500

Progress = Callable[[int, int], None]
"""Called with the number of rows done and of all rows."""


def _none_known(family_ids: Sequence[UUID]) -> Mapping[UUID, Record]:
    del family_ids
    return {}


def _none_called(texts: Sequence[str]) -> Mapping[str, tuple[UUID, ...]]:
    del texts
    return {}


def _unwatched(done: int, total: int) -> None:
    del done, total


class PreviewRow(msgspec.Struct, frozen=True, kw_only=True):
    """One of the first rows: its cells, and what they are read as or why they cannot be."""

    number: int
    cells: tuple[str, ...]
    read_as: tuple[Words, ...] = ()
    problems: tuple[Problem, ...] = ()


class Preview(msgspec.Struct, frozen=True, kw_only=True):
    """How a file will be read; `questions` must be answered in the options first.

    `families` has the rows of each family, where a column names it.
    """

    encoding: str
    delimiter: str
    row_count: int
    columns: tuple[Column, ...]
    rows: tuple[PreviewRow, ...] = ()
    families: tuple[FamilyRows, ...] = ()
    shown_by: tuple[Words, ...] = ()
    questions: tuple[Problem, ...] = ()


class CsvImport(msgspec.Struct, frozen=True, kw_only=True):
    """What a file comes to: for each family a record that holds the entries of the file only.

    Attributes:
        records: For each family with anything new, its infants and its new entries.
        row_count: The rows of the file, the empty ones not counted.
        repeated_count: The entries of the file that were on the record already.
        left_out: The problems of the rows that were left out on request.
        doubts: The doubtful values that were accepted.
    """

    records: tuple[Record, ...]
    row_count: int
    repeated_count: int = 0
    left_out: tuple[Problem, ...] = ()
    doubts: tuple[Problem, ...] = ()

    @property
    def entry_count(self) -> int:
        """How many entries the file comes to."""
        return sum(len(record.entries) for record in self.records)


def preview_of(
    table: Table,
    options: CsvOptions,
    limits: ReadingLimits,
    *,
    family: Record | None = None,
    families: Families = _none_called,
) -> Preview:
    """How a table will be read: its columns, its first rows, and what must be said first.

    What is still asked is not held against a row: it shows what it is read as so far.
    """
    shown = Preview(
        encoding=table.encoding,
        delimiter=table.delimiter,
        row_count=len(table.rows) + len(table.problems),
        columns=guessed(table),
        rows=tuple(
            PreviewRow(number=row.number, cells=row.cells)
            for row in islice(table.rows, PREVIEWED_ROWS)
        ),
    )
    try:
        check_zone(options.zone)
        columns = _columns(table, options, family)
    except InputError as error:
        return msgspec.structs.replace(shown, questions=error.problems)
    conventions, questions = settled_so_far(table, columns, options, family)
    reader = RowReader(columns, conventions, options, limits)
    asked = {code for one in questions for code in (one.code, ASKS_OF_ROWS.get(one.code, one.code))}
    named = family_rows(table, columns, families) if names_families(columns) else ()
    unknown = {one.text: one.problem for one in named if one.problem}
    return msgspec.structs.replace(
        shown,
        columns=columns,
        rows=tuple(
            _preview_row(row.cells, reader.read(row), options.zone, asked, unknown)
            for row in islice(table.rows, PREVIEWED_ROWS)
        ),
        families=named,
        shown_by=conventions.shown_by,
        questions=questions,
    )


def read_csv(  # noqa: PLR0913 -- what reading a file is
    content: bytes,
    options: CsvOptions,
    limits: ReadingLimits,
    *,
    family: Record | None = None,
    families: Families = _none_called,
    known: Known = _none_known,
    check: Checker = nothing_implausible,
    progress: Progress = _unwatched,
    checking: Progress = _unwatched,
) -> CsvImport:
    """Read a file whole.

    Args:
        content: The bytes of the file.
        options: What the reader says about it.
        limits: What is possible at all, from the content store.
        family: The record of the one family that the file is about; None for several, or a cohort.
        families: Asked for the families that the rows name, where a column does.
        known: Asked for the families of the rows that are on the record already; without it the
            second import of a cohort repeats the first.
        check: Asked of each record that the file comes to (with what is on the record already)
            whether its values are plausible.
        progress: Told how far the reading has come.
        checking: Told of how many rows it is settled what they come to.

    Raises:
        InputError: Every question about the file; or, unless bad rows are left out, every problem
            of its rows in their order; or every doubt, unless doubtful values are accepted.
    """
    check_zone(options.zone)
    table = read_table(content, encoding=options.encoding, delimiter=options.delimiter)
    columns = _columns(table, options, family)
    reader = RowReader(columns, settle(table, columns, options, family), options, limits)
    rows: list[RowFacts] = []
    for done, row in enumerate(table.rows):
        if done % PROGRESS_EVERY == 0:
            progress(done, len(table.rows))
        rows.append(reader.read(row))
    progress(len(table.rows), len(table.rows))
    if names_families(columns):
        assembled = assemble_families(rows, families, known, options, check, checking)
    else:
        groups: dict[str, list[RowFacts]] = {}
        for facts in rows:
            groups.setdefault(facts.infant, []).append(facts)
        assembled = Assembler(options, family, check, known).assemble(groups, checking)
    found = sorted([*table.problems, *assembled.problems], key=lambda numbered: numbered[0])
    _refuse([problem for _, problem in found], options)
    if not assembled.records and not assembled.repeated_count:
        raise InputError(*(problem for _, problem in found), _nothing_left())
    return CsvImport(
        records=assembled.records,
        row_count=len(table.rows) + len(table.problems),
        repeated_count=assembled.repeated_count,
        left_out=tuple(problem for _, problem in found),
        doubts=assembled.doubts,
    )


def _columns(table: Table, options: CsvOptions, family: Record | None) -> tuple[Column, ...]:
    columns = as_held(table, columns_of(table.header, options.columns))
    return of_one_family(columns) if family is not None else columns


def _refuse(problems: Sequence[Problem], options: CsvOptions) -> None:
    """What is wrong beyond doubt is said first; with nothing but doubts left, they are asked."""
    unanswered = [problem for problem in problems if not options.leaves_out(problem)]
    if unanswered:
        raise InputError(*([one for one in unanswered if not one.doubtful] or unanswered))


def _preview_row(
    cells: tuple[str, ...],
    facts: RowFacts,
    zone: str,
    asked: set[str],
    unknown: Mapping[str, Problem],
) -> PreviewRow:
    found = [one for one in facts.problems if one.code not in asked]
    if facts.family in unknown:
        found.append(unknown[facts.family])
    return PreviewRow(
        number=facts.number, cells=cells, read_as=facts.summary(zone), problems=tuple(found)
    )


def guessed(table: Table) -> tuple[Column, ...]:
    """The columns as their names and cells say, whatever questions that raises."""
    return as_held(table, [guess(name, index) for index, name in enumerate(table.header)])


def _nothing_left() -> Problem:
    return Problem(
        code="CSV-050",
        what=message("No row is left to import."),
        why=message("Every row has no value or was left out."),
        fix=message("Correct the rows named above."),
    )
