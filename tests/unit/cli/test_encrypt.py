"""`suffice encrypt` and `suffice decrypt` refuse what they cannot do, before anything is opened or changed.

What they do is in tests/fault/test_kill_encrypt.py and test_never_plain.py, by the commands themselves.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from typer.testing import CliRunner

from record_file import a_key
from suffice.cli import app
from suffice.errors import SufficeError
from suffice.record.cipher import driver
from suffice.record.cipher.configured import RECORD
from suffice.record.cipher.key import VARIABLE


@pytest.fixture
def home(tmp_path: Path, monkeypatch) -> Path:
    folder = tmp_path / "home"
    folder.mkdir()
    for name, value in (
        ("SUFFICE_HOME", str(folder)),
        ("DATABASE_URL", ""),
        (VARIABLE, ""),
    ):
        monkeypatch.setenv(name, value)
    return folder


def refused(*command: str | Path) -> str:
    done = CliRunner().invoke(app, [*map(str, command)])
    assert isinstance(done.exception, SufficeError), done.output
    return done.exception.problems[0].code


def plain_in(home: Path) -> bytes:
    with closing(sqlite3.connect(home / RECORD)) as file:
        file.execute("CREATE TABLE t (n)")
        file.commit()
    return (home / RECORD).read_bytes()


def test_a_key_is_made_once_and_its_id_said(home: Path, tmp_path: Path) -> None:
    place = tmp_path / "made"
    done = CliRunner().invoke(app, ["encrypt", "--make-key", str(place)])
    assert done.exit_code == 0, done.output
    assert place.stat().st_mode & 0o077 == 0
    secret = place.read_text().strip().partition(":")[2]
    assert secret
    assert secret not in done.output
    before = place.read_bytes()
    assert refused("encrypt", "--make-key", place) == "STORE-005"
    assert place.read_bytes() == before
    assert [*home.iterdir()] == []


@pytest.mark.parametrize("command", [("encrypt",), ("decrypt",), ("encrypt", "--change-to", "x")])
def test_without_a_key_nothing_is_done(home: Path, command: tuple[str, ...]) -> None:
    before = plain_in(home)
    assert refused(*command) == "CLI-020"
    assert (home / RECORD).read_bytes() == before


def test_where_there_is_no_record_none_is_made(home: Path, tmp_path: Path) -> None:
    place = a_key(tmp_path)[0]
    assert refused("encrypt", "--key", place) == "STORE-012"
    assert refused("decrypt", "--key", place) == "STORE-012"
    assert [*home.iterdir()] == []


def test_what_is_already_so_is_said(home: Path, tmp_path: Path) -> None:
    place, key = a_key(tmp_path)
    before = plain_in(home)
    assert refused("decrypt", "--key", place) == "STORE-012"
    assert refused("encrypt", "--key", place, "--change-to", place) == "STORE-012"
    assert (home / RECORD).read_bytes() == before
    (home / RECORD).unlink()
    driver.begin(home / RECORD, key)
    before = (home / RECORD).read_bytes()
    assert refused("encrypt", "--key", place) == "STORE-012"
    assert (home / RECORD).read_bytes() == before


def test_a_file_that_is_no_key_is_said_before_anything_is_changed(home: Path, tmp_path) -> None:
    before = plain_in(home)
    (tmp_path / "none").write_text("not a key\n")
    (tmp_path / "none").chmod(0o600)
    assert refused("encrypt", "--key", tmp_path / "none") == "STORE-005"
    assert (home / RECORD).read_bytes() == before


def test_a_record_in_postgresql_is_not_encrypted_by_it(home: Path, tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("DATABASE_URL", "postgresql://db.example/suffice")
    assert refused("encrypt", "--key", a_key(tmp_path)[0]) == "STORE-011"
    assert [*home.iterdir()] == []
