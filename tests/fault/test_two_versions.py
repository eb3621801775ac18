"""An old and a new version of the program never write into one record at once; processes of their own."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import psycopg
import pytest

from postgres import Server
from suffice.cli.serving import only_server

TESTS = Path(__file__).resolve().parents[1]
OLD = "0009_teams_and_people"


class Record:
    """A record whose tables an old version made, and commands on it."""

    def __init__(self, home: Path, url: str) -> None:
        self.home, self.url = home, url
        self.environment = {
            **os.environ,
            "SUFFICE_HOME": str(home),
            "DATABASE_URL": url,
            "DJANGO_SETTINGS_MODULE": "suffice.web.site.settings",
            "PYTHONPATH": os.pathsep.join([str(TESTS.parent / "src"), str(TESTS)]),
        }
        assert self.run(str(TESTS / "fault" / "upgrader.py"), "begin", OLD).returncode == 0

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, *arguments],
            check=False,
            capture_output=True,
            text=True,
            timeout=200,
            env=self.environment,
        )

    def command(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return self.run("-m", "suffice.cli", *arguments)

    def seem_newer(self) -> None:
        """As if a newer version had brought the tables up to date."""
        values = "('record', '9999_x', '2026-06-01 00:00:00')"
        newer = f"INSERT INTO django_migrations (app, name, applied) VALUES {values}"
        if self.url:
            with psycopg.connect(self.url) as server:
                server.execute(newer)
            return
        with closing(sqlite3.connect(self.home / "suffice.sqlite3")) as file, file:
            file.execute(newer)

    @contextmanager
    def used(self) -> Iterator[subprocess.Popen[str]]:
        """For the length of the block another program uses it."""
        holder = subprocess.Popen(
            [sys.executable, str(TESTS / "fault" / "holder.py")],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=self.environment,
        )
        assert holder.stdout is not None
        assert holder.stdout.readline() == "joined\n"
        try:
            yield holder
        finally:
            holder.kill()
            holder.wait()
            for pipe in (holder.stdin, holder.stdout):
                assert pipe is not None
                pipe.close()


def may_write(holder: subprocess.Popen[str]) -> str:
    assert holder.stdin is not None
    assert holder.stdout is not None
    holder.stdin.write("write\n")
    holder.stdin.flush()
    return holder.stdout.readline().strip()


def check(record: Record) -> None:
    with record.used():
        refused = record.command("team", "list")
        assert refused.returncode == 4, refused.stdout
        assert "STORE-002" in refused.stderr
        assert not (record.home / "before-upgrade").exists()
    with only_server(record.home, "http://localhost:8000/"):
        refused = record.command("team", "list")
        assert (refused.returncode, "STORE-002" in refused.stderr) == (4, True)
    # The one that was killed left nothing that would have to be cleared away.
    done = record.command("team", "list")
    assert done.returncode == 0, done.stderr
    assert f"from {OLD} to " in done.stderr
    assert len(list((record.home / "before-upgrade").glob("*.backup"))) == 1
    with record.used() as holder:
        assert may_write(holder) == "written"
        record.seem_newer()
        assert may_write(holder).startswith("RECORD-009 A newer version of the program")
    refused = record.command("team", "list")
    assert (refused.returncode, refused.stderr.partition(":")[0]) == (4, "STORE-003")
    said = record.command("doctor")
    assert (said.returncode, "9999_x" in said.stdout) == (4, True)


@pytest.mark.slow
def test_two_versions_never_write_at_once_on_sqlite(tmp_path: Path) -> None:
    check(Record(tmp_path, ""))


@pytest.mark.slow
@pytest.mark.postgres
def test_two_versions_never_write_at_once_on_postgresql(tmp_path: Path, postgres: Server) -> None:
    check(Record(tmp_path, postgres.create_database("two_versions")))
