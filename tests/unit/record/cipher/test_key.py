"""The key of a record: what follows from it, what a file says of it, what the environment may name."""

from __future__ import annotations

import hashlib
import hmac
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from itertools import combinations
from pathlib import Path

import pytest

from record_file import a_key
from suffice.care.backup.key import copies_key, new_key, read_key
from suffice.errors import InputError, StorageError, SufficeError
from suffice.record.cipher import configured, driver
from suffice.record.cipher.key import KEPT_AS, VARIABLE, Kind, RecordKey, look
from suffice.record.key_file import CREDENTIALS


@pytest.fixture(autouse=True)
def _nothing_is_named(monkeypatch) -> None:
    monkeypatch.delenv(VARIABLE, raising=False)


def test_what_follows_from_a_key_is_of_its_purpose_and_does_not_show() -> None:
    key = RecordKey(secret=bytes(range(32)))
    derived = [key.raw, key.for_("uploads"), copies_key(key).secret, key.secret]
    assert all(len(one) == 32 for one in derived)
    assert all(one != other for one, other in combinations(derived, 2))
    expected = hmac.new(key.secret, b"suffice record 1: the file", hashlib.sha256)
    assert key.raw == expected.digest()
    assert key.secret.hex() not in repr(key)
    assert key.raw.hex() not in repr(key)
    assert key.id.hex() in repr(key)


def test_a_file_says_which_key_opens_it_and_two_never_begin_alike(tmp_path: Path) -> None:
    _place, key = a_key(tmp_path)
    heads = set()
    for name in ("one", "two"):
        driver.begin(tmp_path / name, key)
        assert look(tmp_path / name).kind is Kind.ENCRYPTED
        assert look(tmp_path / name).key_id == key.id
        heads.add((tmp_path / name).read_bytes()[:16])
    assert len(heads) == 2


def test_a_file_that_is_there_is_not_begun_anew(tmp_path: Path) -> None:
    _place, key = a_key(tmp_path)
    path = tmp_path / "one"
    driver.begin(path, key)
    before = path.read_bytes()
    driver.begin(path, key)
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith("one")] == ["one"]


def test_what_sqlite_puts_by_stays_in_memory_and_nothing_is_said(tmp_path: Path, capfd) -> None:
    _place, key = a_key(tmp_path)
    path = tmp_path / "one"
    driver.begin(path, key)
    with closing(driver.opened(path, key)) as file:
        assert file.execute("PRAGMA temp_store").fetchone() == (2,)
        file.execute("CREATE TABLE t (n)")
        file.commit()
    content = bytearray(path.read_bytes())
    content[5000] ^= 1
    path.write_bytes(content)
    with closing(driver.opened(path, key)) as file, pytest.raises(Exception, match="malformed"):
        file.execute("SELECT * FROM t").fetchall()
    assert capfd.readouterr() == ("", "")


def named(path: Path) -> None:
    os.environ[VARIABLE] = str(path)


def refused(record: Path) -> str:
    with pytest.raises(SufficeError) as raised:
        configured.key_of(record)
    assert isinstance(raised.value, InputError | StorageError)
    return raised.value.problems[0].code


def test_record_and_environment_go_together_or_are_refused(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(VARIABLE, "")
    record = tmp_path / "record"
    place, key = a_key(tmp_path)
    other, _other_key = a_key(tmp_path, "other")
    assert configured.key_of(record) is None
    named(place)
    assert configured.key_of(record) == key
    driver.begin(record, key)
    assert configured.key_of(record) == key
    named(other)
    assert refused(record) == "STORE-009"
    monkeypatch.setenv(VARIABLE, "")
    assert refused(record) == "STORE-007"
    record.unlink()
    with closing(sqlite3.connect(record)) as plain:
        plain.execute("CREATE TABLE t (n)")
    assert configured.key_of(record) is None
    named(place)
    assert refused(record) == "STORE-008"


def test_a_file_that_is_no_key_of_a_record_is_refused(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(VARIABLE, "")
    named(tmp_path / "none")
    assert refused(tmp_path / "record") == "STORE-005"
    new_key(tmp_path / "of-backups")
    named(tmp_path / "of-backups")
    assert refused(tmp_path / "record") == "STORE-005"
    place, _key = a_key(tmp_path)
    place.chmod(0o640)
    named(place)
    assert refused(tmp_path / "record") == "STORE-006"


def test_without_what_opens_it_a_key_is_refused(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(VARIABLE, str(a_key(tmp_path)[0]))
    monkeypatch.setattr(configured, "DRIVER", "a_package_that_is_not_there")
    assert refused(tmp_path / "record") == "STORE-010"


def test_with_postgresql_a_key_is_refused_since_it_would_encrypt_nothing(monkeypatch) -> None:
    monkeypatch.setenv(VARIABLE, "")
    configured.refuse_key()
    monkeypatch.setenv(VARIABLE, "/a/key")
    with pytest.raises(InputError, match="STORE-011"):
        configured.refuse_key()


def test_the_key_of_a_record_opens_the_copies_of_before_its_upgrades(tmp_path: Path) -> None:
    place, key = a_key(tmp_path)
    assert read_key(place) == copies_key(key)
    assert read_key(place).secret != key.secret


def test_looking_at_a_record_leaves_the_locks_of_whoever_has_it_open(tmp_path: Path) -> None:
    """Without them another program that closes it takes itself for the last, and removes the log."""
    record = tmp_path / "record"
    with closing(sqlite3.connect(record, isolation_level=None)) as ours:
        ours.execute("PRAGMA journal_mode=WAL")
        ours.execute("CREATE TABLE entry (id)")
        assert [look(record).kind for _ in range(3)] == [Kind.PLAIN] * 3
        another = "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); c.execute('SELECT * FROM entry').fetchall(); c.close()"
        subprocess.run([sys.executable, "-c", another, str(record)], check=True)
        assert record.with_name("record-wal").exists()
        ours.execute("INSERT INTO entry VALUES (1)")
        with closing(sqlite3.connect(record)) as theirs:
            assert theirs.execute("SELECT id FROM entry").fetchall() == [(1,)]


def test_a_record_that_another_file_replaced_is_looked_at_anew(tmp_path: Path) -> None:
    record, other = tmp_path / "record", tmp_path / "other"
    assert look(record).kind is Kind.NONE
    record.write_bytes(b"SQLite format 3\0 and more")
    assert look(record).kind is Kind.PLAIN
    other.write_bytes(b"something else entirely")
    other.replace(record)
    assert look(record).kind is Kind.OTHER
    with record.open("wb") as file:
        file.write(b"")
    assert look(record).kind is Kind.NONE


def test_a_key_that_systemd_hands_to_the_service_is_read(tmp_path: Path, monkeypatch) -> None:
    """From version 254 on systemd lets the service's user in by an ACL, which shows as a right of the group."""
    folder = tmp_path / "credentials"
    folder.mkdir()
    place, key = a_key(folder)
    place.chmod(0o440)
    with pytest.raises(InputError, match="STORE-006"):
        KEPT_AS.read(place)
    monkeypatch.setenv(CREDENTIALS, str(folder))
    assert KEPT_AS.read(place) == key.secret
    place.chmod(0o444)
    with pytest.raises(InputError, match="STORE-006"):
        KEPT_AS.read(place)
    elsewhere, _other = a_key(tmp_path, "2")
    elsewhere.chmod(0o440)
    with pytest.raises(InputError, match="STORE-006"):
        KEPT_AS.read(elsewhere)
    (folder / "led-out").symlink_to(elsewhere)
    with pytest.raises(InputError, match="STORE-006"):
        KEPT_AS.read(folder / "led-out")
