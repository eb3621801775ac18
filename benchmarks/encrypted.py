"""What it costs to encrypt SQLite whole: processor time of the same work on a plain and on an encrypted file, by turns."""

from __future__ import annotations

import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from benchmarks.result import Result
from suffice.record.cipher import driver
from suffice.record.cipher.key import RecordKey
from suffice.record.key_file import KEY_BYTES

ROWS, FAMILIES, TOGETHER, CHARACTERS = 12_000, 200, 10, 300
COMMITS, LOOKS, ROUNDS = 300, 300, 3
MOST = {"commit": 2.0, "look": 3.5, "open look": 2.5, "every row": 4.5}
"""Times as long; chosen so that a page stays within a millisecond of what it was."""
KEY = RecordKey(secret=bytes(KEY_BYTES))
OF_ONE = "SELECT * FROM entry WHERE family = ?"
Opener = Callable[[], sqlite3.Connection]


def run() -> list[Result]:
    with tempfile.TemporaryDirectory() as folder:
        plain, encrypted = Path(folder, "plain"), Path(folder, "encrypted")
        driver.begin(encrypted, KEY)
        openers: tuple[Opener, Opener] = (
            lambda: _set_up(sqlite3.connect(plain)),
            lambda: _set_up(driver.opened(encrypted, KEY)),
        )
        for opener in openers:
            _fill(opener)
        pairs = {
            "commit": ("one entry, a transaction of its own, flushed", _commit, COMMITS),
            "look": ("a family's rows by a new connection", _look, LOOKS),
            "open look": ("the same by one that is open", _look_again, LOOKS),
            "every row": ("every row read once", _every, 1),
        }
        results = [
            _compared(name, work, openers, count, MOST[key])
            for key, (name, work, count) in pairs.items()
        ]
        sizes = [path.stat().st_size / 1e6 for path in (plain, encrypted)]
    size = f"{sizes[0]:.2f} MB plain, {sizes[1]:.2f} MB encrypted"
    return [*results, Result("size of the file", sizes[1] / sizes[0], "times", 1.1, detail=size)]


def _set_up(opened: sqlite3.Connection) -> sqlite3.Connection:
    opened.execute("PRAGMA journal_mode = WAL")
    opened.execute("PRAGMA synchronous = FULL")
    return opened


def _fill(opener: Opener) -> None:
    # As contacts come: some entries of a family, then of another, and of the first again days later.
    rows = ((number // TOGETHER % FAMILIES, "x" * CHARACTERS) for number in range(ROWS))
    with closing(opener()) as file, file:
        file.execute("CREATE TABLE entry (id INTEGER PRIMARY KEY, family INTEGER, fact TEXT)")
        file.execute("CREATE INDEX of_family ON entry (family)")
        file.executemany("INSERT INTO entry (family, fact) VALUES (?, ?)", rows)


def _commit(opener: Opener, count: int) -> float:
    with closing(opener()) as file:
        began_s = time.process_time()
        for number in range(count):
            with file:
                file.execute("INSERT INTO entry (family, fact) VALUES (?, ?)", (number, "y"))
        return time.process_time() - began_s


def _look(opener: Opener, count: int) -> float:
    # As others have it open meanwhile, none of these is the last, which would tidy the log away.
    with closing(opener()) as other:
        other.execute(OF_ONE, (0,)).fetchall()
        began_s = time.process_time()
        for number in range(count):
            with closing(opener()) as file:
                file.execute(OF_ONE, (number % FAMILIES,)).fetchall()
        return time.process_time() - began_s


def _look_again(opener: Opener, count: int) -> float:
    with closing(opener()) as file:
        file.execute(OF_ONE, (0,)).fetchall()
        began_s = time.process_time()
        for number in range(count):
            file.execute(OF_ONE, (number % FAMILIES,)).fetchall()
        return time.process_time() - began_s


def _every(opener: Opener, _count: int) -> float:
    with closing(opener()) as file:
        began_s = time.process_time()
        file.execute("SELECT * FROM entry").fetchall()
        return time.process_time() - began_s


def _compared(
    name: str,
    work: Callable[[Opener, int], float],
    openers: tuple[Opener, Opener],
    count: int,
    most: float,
) -> Result:
    """The least of some rounds of each, by turns: what other programs take makes either only longer."""
    rounds = [[work(opener, count) for opener in openers] for _ in range(ROUNDS)]
    plain, encrypted = (1e6 * min(column) / count for column in zip(*rounds, strict=True))
    said = f"{plain:,.0f} µs plain, {encrypted:,.0f} µs encrypted"
    return Result(f"{name}, against a plain file", encrypted / plain, "times", most, detail=said)
