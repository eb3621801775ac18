"""Writes docs/reference/bad-input.md from the tables in tests/bad_input, or checks that it fits.

python -m tools.render_bad_input           writes the page
python -m tools.render_bad_input --check   says whether the page differs from the tables
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
TABLES = ROOT / "tests" / "bad_input"
PAGE = ROOT / "docs" / "reference" / "bad-input.md"
DOORS = {
    "forms": "Forms",
    "csv": "Tables (CSV)",
    "family_json": "Family files (JSON)",
    "cli": "Command line",
}
THEN = {"refused": "refused", "asked": "asked, stored once confirmed", "stored": "stored as it is"}
SHOWN = 160
"""Characters of what is entered that the page repeats."""

HEAD = """# Bad input

What is entered wrong, and what is said of it: to the letter, at the field, the row, the place in the file or the option.
Each line is a test that goes through the real door and also looks whether nothing was stored and nothing typed was lost.
The codes are explained in [errors](../errors.md).

This page is rendered from the tables in `tests/bad_input` by `python -m tools.render_bad_input`; change those.
`<x, 100 times>` stands for a hundred x, `<the id of Ava>` for an id. It is 25 November 2026, 11:00 in Madrid.
"""


def rendered() -> str:
    """The page."""
    parts = [HEAD]
    for door, title in DOORS.items():
        cases = tomllib.loads((TABLES / f"{door}.toml").read_text(encoding="utf-8"))["case"]
        parts.append(f"## {title}\n\n{len(cases)} cases.\n\n" + "\n".join(table(door, cases)))
    return "\n\n".join(part.strip() for part in parts) + "\n"


def table(door: str, cases: list[Mapping[str, Any]]) -> Iterator[str]:
    yield "| entered | as | then | said | where | code |"
    yield "|---|---|---|---|---|---|"
    for case in cases:
        for place, told in enumerate(case.get("problem") or [case]):
            first = place == 0
            row = (
                case["entered"] if first else "",
                code_span(typed(door, case)) if first else "",
                THEN[case["then"]] if first else "",
                cell(told.get("message", "")),
                cell(told.get("at", "")),
                told.get("code", ""),
            )
            yield f"| {' | '.join(row)} |"


def typed(door: str, case: Mapping[str, Any]) -> str:
    """What is entered, in one line."""
    if door == "forms":
        said = ", ".join(f"{name}: {text}" for name, text in case["typed"].items())
        return f"{case['form']}, {said}"
    if door == "cli":
        return "suffice " + " ".join(case["typed"])
    if "file" in case or "text" in case:
        return str(case.get("file", case.get("text"))).strip().replace("\n", " ⏎ ")
    ways = ("set", "remove", "again", "in_text", "everywhere", "encoding")
    return "; ".join(f"{way} {case[way]}" for way in ways if way in case)


def code_span(text: str) -> str:
    """A text as code, with what cannot be seen spelt out."""
    shown = text if len(text) <= SHOWN else text[:SHOWN] + "…"
    shown = "".join(one if one.isprintable() else f"\\u{ord(one):04x}" for one in shown)
    return f"`` {shown.replace('|', '¦')} ``" if shown else ""


def cell(text: str) -> str:
    """A sentence in a cell: its marks are no marks of ours."""
    for mark in "\\`*_[]<>|#":
        text = text.replace(mark, f"\\{mark}")
    return text


def main() -> int:
    page = rendered()
    if "--check" in sys.argv[1:]:
        if PAGE.is_file() and PAGE.read_text(encoding="utf-8") == page:
            return 0
        print(f"{PAGE.relative_to(ROOT)} differs from its tables: python -m tools.render_bad_input")
        return 1
    PAGE.write_text(page, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
