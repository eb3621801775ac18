"""Begins a new kind of entry: ``python -m tools.new_kind NAME``, or ``make kind NAME=NAME``.

Writes its declaration and its first test, and puts it among the kinds; CONTRIBUTING.md tells what comes
next. Nothing that is there is overwritten.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ENTRY = Path("src/suffice/clinical/entry")
RECORD = ENTRY / "record.py"
LAST = "    | AnyOfBody\n"
"""After which member of the union of kinds a new one stands."""

DECLARATION = '''"""{title}: say here what is observed."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from suffice.clinical.entry.field import Chosen, Fact, Kind
from suffice.message import message


class {struct}(Fact, tag="{tag}", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Say here what an entry of this kind tells; the documentation repeats it."""

    declared: ClassVar[Kind] = Kind(name=message("{tag}"), title=message("{title}"))

    what: Annotated[
        Literal["little", "much"],
        Chosen(
            label=message("What"),
            choices=(("little", message("little")), ("much", message("much"))),
            column="{tag}",
        ),
    ]
'''

TEST = '''"""{title}: form, line, JSON and round trips are tested for every kind; here stands what is its own."""

from csv_case import facts, table
from suffice.clinical.entry.{module} import {struct}


def test_a_table_tells_it():
    assert facts(table("{tag}", "much")) == [{struct}(what="much")]
'''

NEXT = """
Next:
  1. Say in {declaration} what its fields are.
  2. .venv/bin/python -m tools.kind_docs   (JSON schema, tables of the documentation)
  3. .venv/bin/python -m tools.messages    (then the Spanish in src/suffice/language/locale/es)
  4. .venv/bin/python -m pytest -q {test} tests/arch/test_kinds.py tests/property/test_forms_of_facts.py
"""


def begun(name: str, root: Path = ROOT) -> list[Path]:
    """The files that were written or changed for a kind of that name, such as 'skin fold'.

    Raises:
        ValueError: The name is none, or a kind or a file has it already.
    """
    if not re.fullmatch(r"[a-z]+( [a-z]+)*", name):
        raise ValueError(f"'{name}': small letters and single spaces, such as 'skin fold'")
    module = name.replace(" ", "_")
    filling = {
        "tag": name,
        "title": name.capitalize(),
        "struct": "".join(part.capitalize() for part in name.split()),
        "module": module,
    }
    declaration, test = (
        root / ENTRY / f"{module}.py",
        root / f"tests/unit/clinical/test_{module}.py",
    )
    record = root / RECORD
    declared = (one.read_text(encoding="utf-8") for one in (root / ENTRY).glob("*.py"))
    if any(f'tag="{name}"' in text for text in declared):
        raise ValueError(f"there is a kind '{name}'")
    for path in (declaration, test):
        if path.exists():
            raise ValueError(f"{path.relative_to(root)} is there already")
    declaration.write_text(DECLARATION.format(**filling), encoding="utf-8")
    test.write_text(TEST.format(**filling), encoding="utf-8")
    record.write_text(among(record.read_text(encoding="utf-8"), filling), encoding="utf-8")
    return [declaration, test, record]


def among(record: str, filling: dict[str, str]) -> str:
    """The module of the record with one more kind among its kinds."""
    added = "from suffice.clinical.entry.{module} import {struct}\n".format(**filling)
    own = re.compile(r"(?:^from suffice\.clinical\.entry\.\w+ import .+\n)+", re.MULTILINE)
    found = own.search(record)
    if found is None or LAST not in record:
        raise ValueError(f"{RECORD} is not as expected: add the kind to AnyFact by hand")
    lines = sorted([*found[0].splitlines(keepends=True), added])
    imported = record[: found.start()] + "".join(lines) + record[found.end() :]
    return imported.replace(LAST, f"{LAST}    | {filling['struct']}\n", 1)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("name", help="what the kind is called, such as 'skin fold'")
    name = parser.parse_args(arguments).name
    try:
        declaration, test, record = (path.relative_to(ROOT) for path in begun(name))
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1
    print(f"wrote {declaration} and {test}, changed {record}")
    print(NEXT.format(declaration=declaration, test=test))
    return 0


if __name__ == "__main__":
    sys.exit(main())
