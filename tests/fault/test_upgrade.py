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
import tomllib
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


def run(home: Path, url: str, *arguments: object) -> Any:
    done = subprocess.run(
        [sys.executable, str(TESTS / "fault" / "upgrader.py"), *map(str, arguments)],
        check=False,
        capture_output=True,
        text=True,
        timeout=280,
        env={
            **os.environ,
            "SUFFICE_HOME": str(home),
            "DATABASE_URL": url,
            "PYTHONPATH": os.pathsep.join([str(ROOT / "src"), str(TESTS)]),
        },
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
    if url:
        server = f"{url.rpartition('/')[0]}/postgres"
        with psycopg.connect(server, autocommit=True) as connection:
            connection.execute('CREATE DATABASE "upgraded_begun" TEMPLATE "upgraded"')
    else:
        shutil.copy(tmp_path / "suffice.sqlite3", tmp_path / "begun.sqlite3")
    told = run(tmp_path, url, "killed", KILLS)
    right = {"half": True, "finished": 0, **whole(begun["record_family"])}
    assert told == [right] * KILLS
