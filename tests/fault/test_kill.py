"""kill -9 in the middle of 200 writes loses no acknowledged entry and leaves no half batch.

The writer is another process, killed at a random moment; its successor repeats the batch in which
it died. On PostgreSQL the backend and the whole server are killed as well.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import psycopg
import pytest

from fault.programs import TESTS, Programs
from postgres import Server
from record_file import a_key, connected
from suffice.record.cipher.key import VARIABLE
from sweeps import each

BATCHES = 200
BATCH_SIZE = 4
SEED = 20260301

STORED = "SELECT fact FROM record_entry"


NOTHING_WRONG = """
import django
django.setup()
from suffice.record.verify import verify
checked = verify()
assert checked.found == (), checked
assert checked.row_count > 2, checked
"""
"""Each link was stored with its rows, or neither was."""


class Case(Programs):
    """One database and the writers that are let loose on it."""

    def __init__(self, home: Path, database_url: str = "", key: Path | None = None) -> None:
        super().__init__(home, database_url, app="record", settings={VARIABLE: str(key or "")})
        self.acknowledged: set[int] = set()

    def write_until(self, disturb: Callable[[subprocess.Popen[str]], None], acks: int) -> None:
        """Let a writer go on from where the last one was known to be; disturb it after `acks`."""
        first = max(self.acknowledged, default=0) + 1
        writer = subprocess.Popen(
            [sys.executable, str(TESTS / "fault" / "writer.py"), str(first), str(BATCHES)],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env=self.environment,
        )
        try:
            assert writer.stdout is not None
            assert writer.stdout.readline() == "ready\n"
            for _ in range(acks):
                self.acknowledged.add(int(writer.stdout.readline()))
            disturb(writer)
            # What was printed before the kill was acknowledged, whether or not it was read yet.
            rest = [line for line in writer.stdout.read().splitlines(keepends=True) if line]
            self.acknowledged |= {int(line) for line in rest}
        finally:
            writer.kill()
            writer.wait()
            assert writer.stdout is not None
            writer.stdout.close()

    def stored(self) -> list[dict[str, float]]:
        """The stored facts, read past the program under test; the database file is sound."""
        if self.database_url:
            with psycopg.connect(self.database_url) as connection:
                return [fact for (fact,) in connection.execute(STORED).fetchall()]
        key = self.environment.get(VARIABLE, "")
        with closing(connected(self.home / "suffice.sqlite3", key)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
            return [json.loads(fact) for (fact,) in connection.execute(STORED)]

    def check(self) -> None:
        """Every acknowledged batch is there, and every batch that is there is whole."""
        facts = self.stored()
        stored = Counter(int(fact["weight_g"] // 10) for fact in facts)
        assert set(stored) >= self.acknowledged
        assert set(stored.values()) <= {BATCH_SIZE}
        assert max(stored, default=0) <= max(self.acknowledged, default=0) + 1

    def finish(self) -> None:
        """The rest is written undisturbed, and all is there exactly once."""
        first = max(self.acknowledged) + 1
        self.run(str(TESTS / "fault" / "writer.py"), str(first), str(BATCHES))
        self.acknowledged = set(range(1, BATCHES + 1))
        self.check()
        self.run("-c", NOTHING_WRONG)


def kill_at_once(dice: random.Random) -> Callable[[subprocess.Popen[str]], None]:
    def disturb(writer: subprocess.Popen[str]) -> None:
        time.sleep(dice.random() * 0.02)  # several writes long: anywhere within one
        writer.send_signal(signal.SIGKILL)

    return disturb


def kill_writers(case: Case, times: int) -> None:
    dice = random.Random(SEED)
    for _ in range(times):
        case.write_until(kill_at_once(dice), acks=dice.randint(3, 25))
        case.check()


def test_a_killed_writer_loses_nothing_on_sqlite(tmp_path):
    case = Case(tmp_path)
    kill_writers(case, times=6 // each(2))
    assert 0 < len(case.acknowledged) < BATCHES
    case.finish()


def test_a_killed_writer_loses_nothing_on_an_encrypted_record(tmp_path):
    case = Case(tmp_path / "home", key=a_key(tmp_path)[0])
    kill_writers(case, times=4 // each(2))
    assert 0 < len(case.acknowledged) < BATCHES
    case.finish()
    content = b"".join(path.read_bytes() for path in case.home.glob("suffice.sqlite3*"))
    assert b"weight_g" not in content


@pytest.mark.postgres
def test_a_killed_writer_loses_nothing_on_postgresql(tmp_path, postgres: Server):
    case = Case(tmp_path, postgres.create_database("killed_writer"))
    kill_writers(case, times=4 // each(2))
    assert 0 < len(case.acknowledged) < BATCHES
    case.finish()


@pytest.mark.postgres
def test_a_killed_backend_loses_nothing(tmp_path, postgres: Server):
    case = Case(tmp_path, postgres.create_database("killed_backend"))

    def kill_backend(_writer: subprocess.Popen[str]) -> None:
        with psycopg.connect(postgres.url(), autocommit=True) as connection:
            found = connection.execute(
                "SELECT pid FROM pg_stat_activity WHERE datname = 'killed_backend'"
            ).fetchall()
        for (backend,) in found:
            os.kill(backend, signal.SIGKILL)

    case.write_until(kill_backend, acks=20)
    postgres.wait()
    case.check()
    case.finish()


@pytest.mark.postgres
def test_a_killed_server_loses_nothing(tmp_path, postgres: Server):
    case = Case(tmp_path, postgres.create_database("killed_server"))
    case.write_until(lambda _writer: postgres.stop(signal.SIGKILL), acks=20)
    postgres.start()
    case.check()
    case.finish()
