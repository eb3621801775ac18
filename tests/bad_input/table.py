"""The tables of bad input beside this file: one per door, each case what is entered and the answer."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from uuid import UUID

from suffice.clinical.entry import KINDS

FOLDER = Path(__file__).parent
DOORS = ("forms", "csv", "family_json", "cli")

REPEATED = re.compile(r"<(.+?), (\d+) times>")
NAMED = re.compile(r"<the id of (.+?)>")


def cases(door: str) -> list[dict[str, Any]]:
    """The cases of one door, in the order of its table."""
    read = tomllib.loads((FOLDER / f"{door}.toml").read_text(encoding="utf-8"))
    return list(read["case"])


def named(case: Mapping[str, Any]) -> str:
    """The name of a case in a report of tests."""
    return str(case["entered"]).replace(" ", "-")


def filled(text: str, ids: Mapping[str, UUID]) -> str:
    """A text of a table with what it only names.

    `<x, 100000 times>`, `<the id of Ava>`, `<every kind>`: a new kind of entry changes no case.
    """
    text = text.replace("<every kind>", ", ".join(f'"{kind}"' for kind in KINDS))
    repeated = REPEATED.sub(lambda found: found[1] * int(found[2]), text)
    return NAMED.sub(lambda found: str(ids[found[1]]), repeated)


def problems(case: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """(code, place, message) of everything that a case must be told, in order."""
    told = case.get("problem") or [case]
    return [(one["code"], one.get("at", ""), one["message"]) for one in told]
