"""Begins a new kind of entry: ``python -m tools.new_kind NAME``, or ``make kind NAME=NAME``.

Writes its declaration and its first test, and puts it among the kinds; CONTRIBUTING.md tells what comes
next. Nothing that is there is overwritten.
"""

from __future__ import annotations

import argparse
import ast
import keyword
import re
import subprocess
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
Next (CONTRIBUTING.md, 'A new kind of entry', says more):
  1. Say in {declaration} what its fields are, and in {test}
     what is the kind's own.
  2. .venv/bin/python -m tools.kind_docs   (JSON schema, tables of the documentation); where content is
     new, .venv/bin/python -m tools.raise_content
  3. .venv/bin/python -m tools.messages    (then write the Spanish under each new msgid of
     src/suffice/language/locale/es/LC_MESSAGES/django.po, and run it again)
  4. make fix, and the tests that walk every kind (a minute):
     .venv/bin/python -m pytest -q {test} \\
       {walks}
  5. make check; then make run and enter one: a family's page lists the new form.
"""

WALKS = (
    "tests/arch/test_kinds.py",
    "tests/property/test_columns_of_kinds.py",
    "tests/arch/test_literals.py",
    "tests/property/test_forms_of_facts.py",
)
"""The tests that walk every kind."""


def begun(name: str, root: Path = ROOT) -> list[Path]:
    """The files that were written or changed for a kind of that name, such as 'skin fold'.

    Raises:
        ValueError: The name is none, or a kind, a file or something of Python has it already.
    """
    if not name:
        raise ValueError("a kind needs a name: make kind NAME='skin fold'")
    if not re.fullmatch(r"[a-z]+( [a-z]+)*", name):
        raise ValueError(f"'{name}': small letters and single spaces, such as 'skin fold'")
    if keyword.iskeyword(name):
        raise ValueError(f"'{name}' is a word of Python: choose another name, or two words")
    module = name.replace(" ", "_")
    filling = {
        "tag": name,
        "title": name.capitalize(),
        "struct": "".join(part.capitalize() for part in name.split()),
        "module": module,
    }
    declaration, test = (
        root / ENTRY / f"{module}.py",
        root / f"tests/unit/clinical/entry/test_{module}.py",
    )
    record = root / RECORD
    declared = (one.read_text(encoding="utf-8") for one in (root / ENTRY).glob("*.py"))
    if any(f'tag="{name}"' in text for text in declared):
        raise ValueError(f"there is a kind '{name}'")
    for path in (declaration, test):
        if path.exists():
            raise ValueError(f"{path.relative_to(root)} is there already")
    before, begins = record.read_text(encoding="utf-8"), DECLARATION.format(**filling)
    if filling["struct"] in names_of(before) | names_of(DECLARATION.replace("{struct}", "_")):
        raise ValueError(
            f"'{filling['struct']}' is the name of something else here: choose another"
        )
    texts = {
        declaration: begins,
        test: TEST.format(**filling),
        record: among(before, filling),
    }
    for path, text in texts.items():
        path.write_text(text, encoding="utf-8")
    # A long name breaks lines where a short one does not.
    formatting = [sys.executable, "-m", "ruff", "format", "--quiet", "--no-cache"]
    subprocess.run([*formatting, *map(str, texts)], cwd=root, check=True)
    return [*texts]


def names_of(source: str) -> set[str]:
    """The names that a module imports or defines."""
    body = ast.parse(source).body
    taken = {name.asname or name.name for node in body for name in getattr(node, "names", ())}
    defined = (ast.ClassDef, ast.FunctionDef)
    return taken | {node.name for node in body if isinstance(node, defined)}


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
    walks = " \\\n       ".join(WALKS)
    print(NEXT.format(declaration=declaration, test=test, walks=walks))
    return 0


if __name__ == "__main__":
    sys.exit(main())
