"""A record that cannot be opened is said in one line, with the exit code of the store."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest


def run(tmp_path, command=("caseload",), **environment):
    bare = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    home = {"SUFFICE_HOME": str(tmp_path / "home")}
    return subprocess.run(
        [sys.executable, "-m", "suffice.cli", *command],
        env=bare | home | environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def not_a_database(tmp_path):
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "suffice.sqlite3").write_bytes(b"this is not a database at all" * 99)
    return {}


def a_file_in_its_place(tmp_path):
    (tmp_path / "home").write_text("a file, not a folder")
    return {}


@pytest.mark.parametrize(
    "broken",
    [
        not_a_database,
        a_file_in_its_place,
        lambda _: {"DATABASE_URL": "mysql://clinic@localhost/suffice"},
        lambda _: {"DATABASE_URL": "postgresql://nobody@127.0.0.1:1/nothing"},
    ],
    ids=["not a database", "home is a file", "another kind of database", "nobody listens"],
)
def test_a_store_that_cannot_be_opened_is_said_in_one_line(tmp_path, broken):
    done = run(tmp_path, **broken(tmp_path))
    assert done.returncode == 4, done.stderr
    assert done.stderr.startswith("STORE-001: The database cannot be opened.")
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_a_new_home_is_made_for_its_owner_alone(tmp_path):
    done = run(tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "home").stat().st_mode & 0o077 == 0
    # In the wrong folder an empty record would be taken for the clinic's.
    assert done.stderr == f"A new record was begun in {tmp_path / 'home'}.\n"
    assert run(tmp_path).stderr == ""


def test_those_who_begin_a_new_home_at_once_take_turns(tmp_path):
    with ThreadPoolExecutor() as pool:
        started = [pool.submit(run, tmp_path) for _ in range(3)]
    assert [one.result().returncode for one in started] == [0] * 3
    said = sorted(one.result().stderr for one in started)
    assert said == ["", "", f"A new record was begun in {tmp_path / 'home'}.\n"]


def test_assessing_a_file_needs_no_record(tmp_path):
    done = run(tmp_path, ("assess", str(tmp_path / "none.json")))
    assert done.returncode == 2
    assert not (tmp_path / "home").exists()


def test_a_crash_leaves_no_memory_on_a_disk(tmp_path):
    """In it are families, as they are read, and the key of an encrypted record."""
    _soft, hard = resource.getrlimit(resource.RLIMIT_CORE)
    if hard == 0:
        pytest.skip("nobody here may leave any")
    program = (
        f"import resource as r; r.setrlimit(r.RLIMIT_CORE, ({hard}, {hard}))\n"
        "from suffice.cli.store import open_record\nopen_record()\n"
        "print(r.getrlimit(r.RLIMIT_CORE)[0])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        env=os.environ | {"SUFFICE_HOME": str(tmp_path / "home")},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split()[-1] == "0"
