"""Writes what the documentation and the JSON schema say of the kinds of entry, from their declarations.

python -m tools.kind_docs           writes the schema and the tables
python -m tools.kind_docs --check   says what differs
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

from suffice.clinical.entry import KINDS, Fact
from suffice.clinical.entry.field import (
    Answered,
    Chosen,
    Counted,
    Field,
    Listed,
    Measured,
    Moment,
    fields_of,
    is_required,
)
from suffice.clinical.reading.quantity import QUANTITIES
from suffice.exchange.family.family_json import schema
from suffice.exchange.table.columns import DECLARED
from suffice.message import Words

ROOT = Path(__file__).resolve().parent.parent
SCHEMA = ROOT / "src/suffice/exchange/family.schema.json"
BEGIN = "<!-- begins: made by python -m tools.kind_docs from src/suffice/clinical/entry -->"
END = "<!-- ends -->"


def values_of(field: Field) -> str:
    """What a field may hold, in a word."""
    if isinstance(field, Chosen):
        return ", ".join(value for value, _ in field.choices)
    if isinstance(field, Listed):
        return f"a key of `{field.vocabulary}`"
    if isinstance(field, Answered):
        return "true, false"
    return "an instant" if isinstance(field, Moment) else ""


def cells_of(field: Field) -> str:
    """What may stand in a cell of a field's column."""
    if isinstance(field, Measured):
        return ", ".join(unit.sign for unit in QUANTITIES[field.quantity].units)
    if isinstance(field, Counted):
        return "a whole number"
    if isinstance(field, Listed):
        return "the name as the form has it, or its key"
    if isinstance(field, Answered):
        return "yes, no"
    return values_of(field) or "text"


def plain(words: Words) -> str:
    return words if isinstance(words, str) else words.template


def kinds_table() -> Iterator[str]:
    yield "| kind | keys (those in italics may be left out) | says |"
    yield "|---|---|---|"
    for name, kind in KINDS.items():
        says = " ".join((kind.__doc__ or "").split("\n\n")[0].split())
        needs = kind.declared.needs
        least = f"; at least one of {', '.join(needs.fields)}" if needs else ""
        yield f"| {name} | {', '.join(keys(kind))}{least} | {says} |"


def keys(kind: type[Fact]) -> Iterator[str]:
    for name, field in fields_of(kind).items():
        shown = name if is_required(kind, name) else f"*{name}*"
        values = values_of(field)
        yield f"{shown} ({values})" if values else shown


def columns_table() -> Iterator[str]:
    yield "| field | of | other names | in a cell |"
    yield "|---|---|---|---|"
    for first, one in DECLARED.items():
        others = one.field.column.split("|")[1:]
        whose = ", ".join(
            plain(kind.declared.name)
            for kind in KINDS.values()
            if any(field.column == one.field.column for field in fields_of(kind).values())
        )
        yield f"| {first} | {whose} | {', '.join(others)} | {cells_of(one.field)} |"


TABLES = {
    ROOT / "docs/reference/family-json.md": kinds_table,
    ROOT / "docs/reference/csv-import.md": columns_table,
}


def with_table(page: str, rows: Iterator[str]) -> str:
    """A page with the table between its two marks made anew."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return before + "\n".join((BEGIN, *rows, END)) + after


def made() -> dict[Path, str]:
    """Every file with what it should hold."""
    pages = {
        path: with_table(path.read_text(encoding="utf-8"), rows()) for path, rows in TABLES.items()
    }
    return {SCHEMA: json.dumps(schema(), indent=1) + "\n", **pages}


def main(arguments: list[str] | None = None) -> int:
    check = "--check" in (sys.argv[1:] if arguments is None else arguments)
    old = {path: text for path, text in made().items() if path.read_text(encoding="utf-8") != text}
    for path, text in old.items():
        if check:
            print(f"{path.relative_to(ROOT)} is old: python -m tools.kind_docs")
        else:
            path.write_text(text, encoding="utf-8")
            print(f"wrote {path.relative_to(ROOT)}")
    if not old:
        print("the documentation of the kinds is as they are declared")
    return int(check and bool(old))


if __name__ == "__main__":
    sys.exit(main())
