"""What the page of values says of the content is so."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from suffice.knowledge.store import load

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/validation/values.md").read_text(encoding="utf-8")
CONTENT = ROOT / "src/suffice/knowledge/content"


def from_memory() -> set[str]:
    found = set()
    for path in CONTENT.glob("*.toml"):
        entries = tomllib.loads(path.read_text(encoding="utf-8"))
        found |= {
            f"{path.stem}.{key}"
            for key, entry in entries.items()
            if isinstance(entry, dict) and entry.get("basis") == "from memory, to verify"
        }
    return found


def test_every_value_from_memory_is_listed_and_no_other() -> None:
    listed = PAGE.split("## Still from memory")[1].split("Each says so")[0]
    assert set(re.findall(r"`([\w.]+)`", listed)) == from_memory()


def test_what_is_said_to_be_gone_is_gone() -> None:
    gone = re.findall(r"^\| `([\w.]+)` \|[^|]*\| gone", PAGE, re.MULTILINE)
    assert len(gone) >= 5
    there = {key for key in load().flat for one in gone if key == one or key.startswith(f"{one}.")}
    assert there == set()


def test_the_fifteen_that_were_wrong_are_each_decided() -> None:
    rows = PAGE.split("## Wrong")[1].split("## Doubtful")[0]
    decided = re.findall(r"^\| `[\w.]+` \|[^|]*\| (put right|decided|gone)\b", rows, re.MULTILINE)
    assert len(decided) == len(re.findall(r"^\| `", rows, re.MULTILINE)) == 15
