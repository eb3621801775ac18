"""`suffice doctor` says how a record is in plain words, ends with a documented code, and changes nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from suffice import cli
from suffice.care.doctor import Health, Sign
from suffice.cli import doctor
from suffice.cli.console import Exit
from suffice.cli.serving import only_server
from suffice.message import message


@pytest.fixture
def record(settings, tmp_path: Path, monkeypatch) -> Path:
    settings.HOME = tmp_path
    monkeypatch.setattr(doctor, "open_record", lambda **_: None)
    return tmp_path


def run(monkeypatch, *health: Health):
    found = [
        Sign(health=one, name=message("Thing"), state=message("as it is"), fix="Do this.")
        for one in health
    ]
    monkeypatch.setattr("suffice.care.doctor.signs", lambda _now: iter(found))
    return CliRunner().invoke(cli.app, ["doctor"])


@pytest.mark.parametrize(
    ("health", "code"),
    [
        ([Health.WELL], Exit.OK),
        ([Health.WELL, Health.LOOK], Exit.INPUT),
        ([Health.AWAY, Health.LOOK], Exit.STORAGE),
        ([Health.AWAY, Health.DAMAGED, Health.WELL], Exit.DAMAGED),
    ],
)
def test_the_worst_decides_how_it_ends(record: Path, monkeypatch, health, code) -> None:
    done = run(monkeypatch, *health)
    assert done.exit_code == code, done.output
    not_well = sum(one is not Health.WELL for one in health)
    assert (f"{not_well} thing" in done.output) is bool(not_well)
    assert done.output.count("Do this.") == len(health)


def test_it_says_where_the_pages_are_served(record: Path, monkeypatch) -> None:
    assert "Not served from this folder" in run(monkeypatch, Health.WELL).output
    with only_server(record, "http://localhost:8000/"):
        assert "Served at http://localhost:8000/." in run(monkeypatch, Health.WELL).output


def as_a_command(home: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    bare = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    return subprocess.run(
        [sys.executable, "-m", "suffice.cli", *arguments],
        env=bare | {"SUFFICE_HOME": str(home)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_a_folder_without_a_record_is_said_and_gets_none(tmp_path: Path) -> None:
    done = as_a_command(tmp_path, "doctor")
    assert done.returncode == Exit.INPUT, done.stderr
    assert "There is none in" in done.stdout
    assert "suffice serve" in done.stdout
    again = as_a_command(tmp_path, "doctor")
    assert again.stdout == done.stdout


def test_a_file_that_is_no_database_is_said_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "suffice.sqlite3").write_bytes(b"this is not a database at all" * 99)
    done = as_a_command(tmp_path, "doctor")
    assert done.returncode == Exit.STORAGE
    assert done.stderr.startswith("RECORD-009")
    assert "Traceback" not in done.stderr
