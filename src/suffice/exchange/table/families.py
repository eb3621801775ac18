"""A table whose rows name their family: which families those are, and what it comes to for each.

Each family is read as the table of one family is, so its entries have the same ids in either; a row of a
family that is not known is a problem of that row.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from uuid import UUID

import msgspec

from suffice.clinical.entry import Record
from suffice.errors import Problem
from suffice.exchange.family.family_json import Checker
from suffice.exchange.table.columns import Column, Field
from suffice.exchange.table.file import Table
from suffice.exchange.table.options import CsvOptions, by_field
from suffice.exchange.table.records import Assembled, Assembler, Numbered
from suffice.exchange.table.rows import RowFacts
from suffice.message import message


class Called(msgspec.Struct, frozen=True, kw_only=True):
    """A family that a table names, and what its infants are called."""

    record: Record
    infants: dict[str, UUID] = {}


Families = Callable[[Sequence[str]], Mapping[str, tuple[Called, ...]]]
"""The families that are called so, of those that whoever imports may write to."""


class FamilyRows(msgspec.Struct, frozen=True, kw_only=True):
    """How many rows a table has of a family, and why they cannot be read where they cannot."""

    text: str
    row_count: int
    problem: Problem | None = None


def of_one_family(columns: Iterable[Column]) -> tuple[Column, ...]:
    """The columns where it is said already whose table it is: a name of the family is not read."""
    return tuple(
        msgspec.structs.replace(one, field=Field.IGNORED) if one.field == Field.FAMILY else one
        for one in columns
    )


def names_families(columns: Iterable[Column]) -> bool:
    """Whether each row of a table says of which family it is."""
    return Field.FAMILY in by_field(columns)


def family_rows(
    table: Table, columns: Iterable[Column], families: Families
) -> tuple[FamilyRows, ...]:
    """The families of a table in the order in which it first names them."""
    column = by_field(columns)[Field.FAMILY]
    counts = Counter(text for row in table.rows if (text := row.cells[column.index].strip()))
    found = families(tuple(counts))
    return tuple(
        FamilyRows(text=text, row_count=count, problem=_refused(text, found.get(text, ())))
        for text, count in counts.items()
    )


def assemble_families(
    rows: Iterable[RowFacts],
    families: Families,
    options: CsvOptions,
    check: Checker,
    progress: Callable[[int, int], None],
) -> Assembled:
    """One record for each family that the rows name.

    Args:
        rows: The rows.
        families: Asked for the families that are called so.
        options: What the reader says about the file.
        check: Asked of each record whether its values are plausible.
        progress: Called with (rows done, rows) after each family.
    """
    named: dict[str, list[RowFacts]] = {}
    problems: list[Numbered] = []
    for row in rows:
        if row.family:
            named.setdefault(row.family, []).append(row)
        else:
            problems += [(row.number, one) for one in row.problems]
    found = families(tuple(named))
    # Two spellings of one family are one family.
    groups: dict[UUID, tuple[Called, dict[str, list[RowFacts]]]] = {}
    for text, own in named.items():
        called = found.get(text, ())
        refused = _refused(text, called)
        if refused is not None:
            problems += [
                (row.number, refused.at(message("row {number}", number=row.number))) for row in own
            ]
            continue
        _, by_infant = groups.setdefault(called[0].record.family_id, (called[0], {}))
        for row in own:
            by_infant.setdefault(row.infant, []).append(row)
    total = sum(len(own) for own in named.values())
    parts = []
    for done, (called_one, by_infant) in enumerate(groups.values()):
        progress(total * done // len(groups), total)
        of_it = msgspec.structs.replace(options, infants=called_one.infants)
        assembler = Assembler(of_it, called_one.record, check, lambda _ids: {})
        parts.append(assembler.assemble(by_infant, lambda _done, _of: None))
    progress(total, total)
    return Assembled(
        records=tuple(record for part in parts for record in part.records),
        problems=(*problems, *(one for part in parts for one in part.problems)),
        doubts=tuple(one for part in parts for one in part.doubts),
        repeated_count=sum(part.repeated_count for part in parts),
    )


def _refused(text: str, called: Sequence[Called]) -> Problem | None:
    if len(called) == 1:
        return None
    if called:
        return Problem(
            code="CSV-054",
            what=message("The row is about the family '{text}'.", text=text),
            why=message("{count} families are called so.", count=len(called)),
            fix=message("Import the rows of each from its own page."),
        )
    return Problem(
        code="CSV-053",
        what=message("The row is about the family '{text}'.", text=text),
        why=message("No family that you may enter something for is called so."),
        fix=message(
            "Write its name as the list has it, open the family first, or say that the column is ignored."
        ),
    )
