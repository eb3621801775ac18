"""A record of every earlier version is brought up to date with all it holds, also where that is killed.

The databases are made from the migrations themselves: migrated to where a version stood, filled by the
models of that state, migrated on. No file of an old release is needed, and none can grow old.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psycopg
import pytest

from postgres import Server
from suffice.record import migrations
from sweeps import each

TESTS = Path(__file__).resolve().parents[1]
ROOT = TESTS.parent
RELEASED = {"2026.11.0": "0003_sign_in_tries"}
"""Each version before this one, with the last migration that it had."""
STATES = sorted(
    path.stem for path in Path(migrations.__path__[0]).glob("0*.py") if path.stem >= "0003"
)
"""Where checkouts between the versions stood, the newest state among them."""
ENTRIES = 41
KILLS = 6 // each(3)


def command(*arguments: object) -> list[str]:
    return [sys.executable, str(TESTS / "fault" / "upgrader.py"), *map(str, arguments)]


def environment(home: Path, url: str) -> dict[str, str]:
    return {
        **os.environ,
        "SUFFICE_HOME": str(home),
        "DATABASE_URL": url,
        "PYTHONPATH": os.pathsep.join([str(ROOT / "src"), str(TESTS)]),
    }


def run(home: Path, url: str, *arguments: object) -> Any:
    done = subprocess.run(
        command(*arguments),
        check=False,
        capture_output=True,
        text=True,
        timeout=280,
        env=environment(home, url),
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def whole(families: int) -> dict[str, Any]:
    """What is there after an upgrade from a record of so many families."""
    return {
        "as_it_was": True,
        "wrong": [],
        "wrong_after": [],
        "pending": [],
        "missing": [],
        "families": families,
        "entries": ENTRIES * families,
        "appended": 1,
    }


class Case:
    """A record as a state left it, whose upgrade is killed by `kill -9` again and again, at any moment of it."""

    def __init__(self, home: Path, url: str, state: str) -> None:
        self.home, self.url, self.state = home, url, state
        home.mkdir(exist_ok=True)
        self.families: int = run(home, url, "begin", state)["record_family"]
        keep_as_begun(home, url)
        self.restored = 0

    def undisturbed(self, clock: Callable[[], float]) -> float:
        """How long an upgrade of it takes by a clock, so that a moment of it can be chosen."""
        return self._torn(None, clock)

    def _torn(self, kill_after_s: float | None, clock: Callable[[], float] = lambda: 0.0) -> float:
        """Upgrade it anew, to the end where no moment is given; how long that took."""
        process = subprocess.Popen(
            command("torn"),
            env=environment(self.home, self.url),
            stdout=subprocess.PIPE,
            text=True,
        )
        assert process.stdout is not None
        try:
            assert process.stdout.readline() == "begins\n"
            began = clock()
            if kill_after_s is None:
                assert process.stdout.readline() == "done\n"
            else:
                time.sleep(kill_after_s)
            return clock() - began
        finally:
            process.kill()
            process.wait()
            process.stdout.close()

    def kill(self, after_s: float, *, restores: bool) -> str:
        """Kill it at one more moment, look, finish it, look; gives the state at which it stood.

        Args:
            after_s: The moment, from its first statement on.
            restores: Whether to restore the copy of before as well, into an empty record.
        """
        self._torn(after_s)
        told = run(self.home, self.url, "finish")
        at, copies = told.pop("at"), told.pop("copies")
        assert told == {"half": True, **whole(self.families)}
        assert copies or at == self.state, "tables were changed before there was a copy"
        if restores and copies and not self.url:
            self.restored += 1
            other = self.home / f"restored-{self.restored}"
            other.mkdir()
            assert run(other, "", "copy", copies[0]) == whole(self.families)
        return str(at)


def keep_as_begun(home: Path, url: str) -> None:
    """Keep a record as it was begun, to begin from it again."""
    if url:
        with psycopg.connect(f"{url.rpartition('/')[0]}/postgres", autocommit=True) as server:
            name = url.rpartition("/")[2]
            server.execute(f'CREATE DATABASE "{name}_begun" TEMPLATE "{name}"')
    else:
        shutil.copy(home / "suffice.sqlite3", home / "begun.sqlite3")


ON_POSTGRES = sorted({*RELEASED.values(), STATES[-2]})
USUAL = {*RELEASED.values(), STATES[-1], *STATES[1 :: each(6)]}
"""Released ones and the newest always; of those between each sixth, in `make sweep` all."""
CASES = [
    *(pytest.param("sqlite", state) for state in sorted(USUAL)),
    *(pytest.param("postgresql", state, marks=pytest.mark.postgres) for state in ON_POSTGRES),
]
VERSIONS = [
    *(pytest.param("sqlite", version) for version in RELEASED),
    *(pytest.param("postgresql", version, marks=pytest.mark.postgres) for version in RELEASED),
]


def url_of(engine: str, name: str, postgres: Server) -> str:
    """The URL of an empty database; SQLite has none."""
    return postgres.create_database(name) if engine == "postgresql" else ""


def test_every_version_of_the_changelog_has_its_state_here() -> None:
    said = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    now = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    assert set(re.findall(r"^## (\S+)", said, re.MULTILINE)) - {now} == set(RELEASED)
    assert set(RELEASED.values()) <= set(STATES)


@pytest.mark.slow
@pytest.mark.parametrize(("engine", "state"), CASES)
def test_a_record_of_each_state_is_brought_up_to_date_whole(
    engine: str, state: str, tmp_path: Path, postgres: Server
) -> None:
    url = url_of(engine, f"from_{state}", postgres)
    begun = run(tmp_path, url, "begin", state)
    families = begun["record_family"]
    assert begun["record_entry"] == ENTRIES * families
    done = run(tmp_path, url, "upgrade")
    copy = done.pop("copy")
    assert done == whole(families)
    if state == STATES[-1]:
        assert copy == "", "nothing was to be done"
        return
    assert Path(copy).parent == tmp_path / "before-upgrade"
    if state in RELEASED.values():
        other = tmp_path / "restored"
        other.mkdir()
        into = url_of(engine, f"restored_{state}", postgres)
        assert run(other, into, "copy", copy) == whole(families)


@pytest.mark.slow
@pytest.mark.parametrize(("engine", "version"), VERSIONS)
def test_an_upgrade_that_is_killed_anywhere_is_finished_by_the_next_start(
    engine: str, version: str, tmp_path: Path, postgres: Server
) -> None:
    url = url_of(engine, "upgraded", postgres)
    begun = run(tmp_path, url, "begin", RELEASED[version])
    keep_as_begun(tmp_path, url)
    told = run(tmp_path, url, "killed", KILLS)
    right = {"half": True, "finished": 0, **whole(begun["record_family"])}
    assert told == [right] * KILLS


@pytest.mark.slow
@pytest.mark.parametrize(("engine", "version"), VERSIONS)
def test_a_step_that_is_killed_before_it_is_noted_is_done_again(
    engine: str, version: str, tmp_path: Path, postgres: Server
) -> None:
    """Done and not noted it could neither be done again nor gone on from, and the record not be opened."""
    url = url_of(engine, "unnoted", postgres)
    begun = run(tmp_path, url, "begin", RELEASED[version])
    keep_as_begun(tmp_path, url)
    told = run(tmp_path, url, "unnoted", each(4))
    assert told
    right = {"half": True, "finished": 0, **whole(begun["record_family"])}
    assert told == [right] * len(told)


@pytest.mark.slow
@pytest.mark.parametrize(("engine", "version"), VERSIONS)
def test_an_upgrade_that_is_killed_at_a_moment_of_chance_loses_nothing(
    engine: str, version: str, tmp_path: Path, postgres: Server
) -> None:
    """As `make torture` does it from every state; nothing of the program knows of this kill."""
    url = url_of(engine, "torn", postgres)
    case = Case(tmp_path / "torn", url, RELEASED[version])
    for after_s, restores in ((0.3, True), (1.0, False)):
        case.kill(after_s, restores=restores)
