"""Which tests of pages are asked on the second engine too: as many as it takes to ask every statement.

`make test` runs everything on SQLite with `--statements FOLDER`, and each process keeps there what
its tests asked of the database. The run on PostgreSQL that follows reads it, and of the tests of
pages it leaves those out whose every statement, and every way in which one failed, another asks
that it does run. What a test asks there rests on the page, not on the engine. Tests of the record,
of what reaches it and of bad values are never left out, nor is a test of whole transactions: who waits
for whom is the engine's, and no statement of SQLite says that a row is locked. Nor is a test that nobody
has heard yet; `make sweep` runs all of them.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest

PAGES = ("tests/web/", "tests/bad_input/test_nobodys_language.py")
"""Where a test may be left out, unless it bears the mark `both_engines`."""
LIKE = (
    (re.compile(r"\d+"), "0"),
    (re.compile(r"%s(?:, %s)+"), "%s"),
    (re.compile(r"(\(%s\))(?:, \(%s\))+"), r"\1"),
)
"""Statements that differ in numbers, or in how many values they bring, are one."""
OF_TRANSACTIONS = ("SAVEPOINT", "RELEASE", "ROLLBACK", "BEGIN", "COMMIT", "SET ")

EACH = 3
"""By so many tests each statement is asked again, or by all that ask it where they are fewer."""
A_TEST = 20
"""What a test costs beside its statements, in statements."""

Asked = dict[str, dict[str, int]]
"""By test: its statements, each by its digest, and how often it asks it."""


def alike(statement: str) -> str:
    """The statement without its numbers and with one value for any count of them."""
    for pattern, instead in LIKE:
        statement = pattern.sub(instead, statement)
    return statement


@cache
def digest_of(statement: str) -> str:
    """What stands for a statement and all that are like it: whole, they would be megabytes."""
    return hashlib.blake2b(alike(statement).encode(), digest_size=8).hexdigest()


class Hearing:
    """Hears what each test asks of the database, and keeps it when the run ends."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.asked: Asked = {}
        self.now: dict[str, int] = {}

    def connected(self, connection: Any, **_: object) -> None:
        """Listen on a connection from now on."""
        if self.heard not in connection.execute_wrappers:
            connection.execute_wrappers.append(self.heard)

    def heard(
        self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any
    ) -> Any:
        try:
            answer = execute(sql, params, many, context)
        except Exception as failure:
            self._note(f"{sql} fails: {type(failure).__name__}")
            raise
        self._note(sql)
        return answer

    def _note(self, said: str) -> None:
        if not said.startswith(OF_TRANSACTIONS):
            self.now[said] = self.now.get(said, 0) + 1

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.now.clear()
        answer = yield
        if self.now and item.nodeid.startswith(PAGES):
            found: dict[str, int] = {}
            for said, times in self.now.copy().items():  # a thread that works on may still ask
                digest = digest_of(said)
                found[digest] = found.get(digest, 0) + times
            self.asked[item.nodeid] = found
        return answer

    def pytest_sessionfinish(self) -> None:
        self.file.parent.mkdir(parents=True, exist_ok=True)
        self.file.write_text(json.dumps(self.asked), encoding="utf-8")


def kept(folder: Path) -> Asked:
    """What all processes of the last run kept."""
    found: Asked = {}
    for file in sorted(folder.glob("*.json")):
        found |= json.loads(file.read_text(encoding="utf-8"))
    return found


def enough(asked: Mapping[str, Mapping[str, int]], there: Iterable[str] = ()) -> set[str]:
    """Tests of which, with those that run in any case, `EACH` ask every statement that so many ask at all.

    Each time the one that asks the most that is still wanted for what it costs, counted in statements;
    of equals the first by name.
    """
    wanted = Counter(said for found in asked.values() for said in found)
    wanted = Counter({said: min(EACH, tests) for said, tests in wanted.items()})
    cost = {one: A_TEST + sum(found.values()) for one, found in asked.items()}
    left = {one: set(found) for one, found in sorted(asked.items())}
    chosen = set(there) & asked.keys()
    for one in chosen:
        wanted.subtract(left.pop(one))
    while wanted := +wanted:
        left = {one: new for one, found in left.items() if (new := found & wanted.keys())}
        best = max(left, key=lambda one: len(left[one]) / cost[one])
        chosen.add(best)
        wanted.subtract(left.pop(best))
    return chosen


def may_be_left_out(item: pytest.Item) -> bool:
    is_of_a_page = item.nodeid.startswith(PAGES)
    database = item.get_closest_marker("django_db")
    is_whole = database is not None and bool(database.kwargs.get("transaction"))
    return is_of_a_page and not is_whole and item.get_closest_marker("both_engines") is None


def left_out(items: list[pytest.Item], asked: Asked) -> set[pytest.Item]:
    """Those of the tests whose statements others ask as well."""
    known = {one.nodeid: asked[one.nodeid] for one in items if one.nodeid in asked}
    always = [one.nodeid for one in items if not may_be_left_out(one)]
    chosen = enough(known, always)
    return {
        one
        for one in items
        if one.nodeid in known and may_be_left_out(one) and one.nodeid not in chosen
    }
