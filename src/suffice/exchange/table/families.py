"""A table whose rows name their family: which families those are, and what it comes to for each.

Each family is read as the table of one family is, so its entries have the same ids in either; a row of a
family that is not known is a problem of that row.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from uuid import UUID

import msgspec

from suffice.clinical.entry import Identity, Record
from suffice.errors import Problem
from suffice.exchange.family.family_json import Checker
from suffice.exchange.table.columns import Column, Field
from suffice.exchange.table.file import Table
from suffice.exchange.table.options import CsvOptions, by_field, by_name
from suffice.exchange.table.records import Assembled, Assembler, Known, Numbered
from suffice.exchange.table.rows import RowFacts
from suffice.message import message

Families = Callable[[Sequence[str]], Mapping[str, tuple[UUID, ...]]]
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
        FamilyRows(text=text, row_count=count, problem=_refused(text, len(found.get(text, ()))))
        for text, count in counts.items()
    )


def assemble_families(
    rows: Iterable[RowFacts],
    families: Families,
    known: Known,
    options: CsvOptions,
    check: Checker,
    progress: Callable[[int, int], None],
) -> Assembled:
    """One record for each family that the rows name.

    Args:
        rows: The rows.
        families: Asked for the families that are called so.
        known: Asked for their records.
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
    records = known(tuple({one for meant in found.values() for one in meant}))
    # Two spellings of one family are one family.
    groups: dict[UUID, dict[str, list[RowFacts]]] = {}
    for text, own in named.items():
        meant = [one for one in found.get(text, ()) if one in records]
        refused = _refused(text, len(meant))
        if refused is not None:
            problems += [
                (row.number, refused.at(message("row {number}", number=row.number))) for row in own
            ]
            continue
        by_infant = groups.setdefault(meant[0], {})
        for row in own:
            by_infant.setdefault(row.infant, []).append(row)
    total = sum(len(own) for own in named.values())
    parts = []
    for done, (family_id, by_infant) in enumerate(groups.items()):
        progress(total * done // len(groups), total)
        record = records[family_id]
        of_it = msgspec.structs.replace(options, infants=_infants(record, options.entered_at))
        assembler = Assembler(of_it, record, check, lambda _ids: {})
        parts.append(assembler.assemble(by_infant, lambda _done, _of: None))
    progress(total, total)
    return Assembled(
        records=tuple(record for part in parts for record in part.records),
        problems=(*problems, *(one for part in parts for one in part.problems)),
        doubts=tuple(one for part in parts for one in part.doubts),
        repeated_count=sum(part.repeated_count for part in parts),
    )


def _infants(record: Record, at: datetime) -> dict[str, UUID]:
    """The infants of a family by what each is called."""
    return by_name(
        (entry.infant_id, entry.fact.name)
        for entry in record.entries_at(at)
        if isinstance(entry.fact, Identity)
    )


def _refused(text: str, count: int) -> Problem | None:
    if count == 1:
        return None
    if count:
        return Problem(
            code="CSV-054",
            what=message("The row is about the family '{text}'.", text=text),
            why=message("{count} families are called so.", count=count),
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
