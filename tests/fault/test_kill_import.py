"""kill -9 in the middle of an import leaves nothing of it on the record, and the next start says so.

The importer is another process that says how far it is; it is killed at each kind of point: while it
reads, checks, has written some portions, is about to let them arrive, and computes ranks.
"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from fault.programs import TESTS, Programs
from postgres import Server

INFANTS, WEIGHTS = 40, 6
ENTRIES = INFANTS * (WEIGHTS + 2)  # birth and name of each besides


def table() -> str:
    rows = ["infant,sex,birth date,birth time,date,time,weight g"]
    for infant in range(1, INFANTS + 1):
        for day in range(WEIGHTS):
            weight = 3200 + 10 * infant + 30 * day
            rows.append(f"{infant},female,2026-05-01,06:00,2026-05-{7 + day:02},09:00,{weight}")
    return "\n".join(rows)


class Case(Programs):
    """One database, and the imports that are let loose on it."""

    def __init__(self, home: Path, database_url: str = "") -> None:
        super().__init__(home, database_url)
        self.file = home / "table.csv"
        self.file.write_text(table(), encoding="utf-8")

    def kill_at(self, stage: str, times: int = 1) -> None:
        """Let an import begin and kill it as soon as it has spoken of a stage so many times."""
        importer = subprocess.Popen(
            [sys.executable, str(TESTS / "fault" / "importer.py"), str(self.file)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=self.environment,
        )
        assert importer.stdout is not None
        assert importer.stderr is not None
        try:
            said: list[str] = []
            while sum(line.startswith(stage) for line in said) < times:
                said.append(importer.stdout.readline())
                assert said[-1], (said, importer.stderr.read())
            importer.send_signal(signal.SIGKILL)
        finally:
            importer.kill()
            importer.wait()
            importer.stdout.close()
            importer.stderr.close()

    def restarted(self) -> dict[str, dict[str, object]]:
        found: dict[str, dict[str, object]] = json.loads(
            self.run(str(TESTS / "fault" / "after_restart.py"))
        )
        return found

    def check(self) -> None:
        for stage, times in (("reading", 1), ("checking", 3), *(("storing", n) for n in (1, 3, 5))):
            self.kill_at(stage, times)
            found = self.restarted()
            nothing = {"state": "interrupted", "arrived": None, "families": 0, "entries": 0}
            nothing |= {"wrong": 0}
            assert {**found["before"], **nothing} == found["before"], (stage, times)
            assert bool(found["before"]["rows"]) is (stage == "storing"), "what was written"
            assert found["after"] == {**nothing, "rows": 0, "busy": False}, (stage, times)
        self.kill_at("assessing")
        found = self.restarted()
        whole = {"state": "interrupted", "arrived": ENTRIES, "families": INFANTS, "wrong": 0}
        assert {**found["after"], **whole, "entries": ENTRIES, "busy": False} == found["after"]
        again = self.run(str(TESTS / "fault" / "importer.py"), str(self.file))
        assert again.splitlines()[-1] == "imported 0"


def test_a_killed_import_is_not_on_the_record_on_sqlite(tmp_path):
    Case(tmp_path).check()


@pytest.mark.postgres
def test_a_killed_import_is_not_on_the_record_on_postgresql(tmp_path, postgres: Server):
    Case(tmp_path, postgres.create_database("killed_import")).check()
