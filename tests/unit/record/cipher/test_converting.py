"""A record encrypted, with another key, and no more: the same to the last row, or the old file untouched."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from record_file import a_key
from suffice.errors import StorageError
from suffice.record.cipher import configured, converting, driver
from suffice.record.cipher.key import Kind, RecordKey, look

WORD = "Celandine Inventada"
ASKED = (
    "SELECT type, name, sql FROM sqlite_master ORDER BY type, name",
    "SELECT * FROM t ORDER BY n",
    "SELECT * FROM sqlite_sequence",
    "PRAGMA user_version",
)


@pytest.fixture
def keys(tmp_path: Path) -> tuple[RecordKey, RecordKey]:
    return a_key(tmp_path, "one")[1], a_key(tmp_path, "two")[1]


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """A record in WAL, part of which is in its log still."""
    folder = tmp_path / "home"
    folder.mkdir()
    path = folder / configured.RECORD
    script = (
        "PRAGMA journal_mode=WAL; PRAGMA user_version=7;"
        "CREATE TABLE t (n integer PRIMARY KEY AUTOINCREMENT, text text, x);"
        "CREATE TRIGGER t_no_delete BEFORE DELETE ON t BEGIN SELECT raise(ABORT, 'kept'); END;"
    )
    with closing(sqlite3.connect(path)) as file:
        file.executescript(script)
        file.executemany(
            "INSERT INTO t (text, x) VALUES (?, ?)", [(f"{WORD} {n}", n / 3) for n in range(500)]
        )
        file.commit()
    path.chmod(0o600)
    return path


def held(path: Path, key: RecordKey | None) -> list[Any]:
    with closing(driver.opened(path, key)) as file:
        return [file.execute(asked).fetchall() for asked in ASKED]


def on_disk(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.iterdir())


def test_there_and_to_another_key_and_back(record: Path, keys) -> None:
    one, two = keys
    before = held(record, None)
    for old, new, kind in (
        (None, one, Kind.ENCRYPTED),
        (one, two, Kind.ENCRYPTED),
        (two, None, Kind.PLAIN),
    ):
        converting.convert(record, old, new)
        assert look(record).kind is kind
        assert look(record).key_id == (new.id if new else b"")
        assert held(record, new) == before
        assert [path.name for path in record.parent.iterdir()] == [record.name]
        assert record.stat().st_mode & 0o077 == 0
        assert (WORD.encode() in on_disk(record.parent)) is (new is None)


def test_the_old_file_is_written_over_before_it_goes(record: Path, keys) -> None:
    with record.open("rb") as old:
        assert WORD.encode() in old.read()
        converting.convert(record, None, keys[0])
        old.seek(0)
        content = old.read()
    assert content == bytes(len(content))
    assert content


def test_a_copy_that_is_not_the_same_is_not_taken(record: Path, keys, monkeypatch) -> None:
    write = converting._write

    def wrong(record: Path, old: Any, made: Path, new: Any) -> None:
        write(record, old, made, new)
        with closing(driver.opened(made, new)) as file:
            file.execute("UPDATE t SET x = x + 1 WHERE n = 77")
            file.commit()

    monkeypatch.setattr(converting, "_write", wrong)
    before = held(record, None)
    with pytest.raises(StorageError, match="STORE-013"):
        converting.convert(record, None, keys[0])
    assert held(record, None) == before
    assert not configured.unfinished(record).exists()


def test_a_row_that_was_lost_is_noticed(record: Path, keys, monkeypatch) -> None:
    write = converting._write

    def wrong(record: Path, old: Any, made: Path, new: Any) -> None:
        write(record, old, made, new)
        with closing(driver.opened(made, new)) as file:
            file.executescript("DROP TRIGGER t_no_delete; DELETE FROM t WHERE n = 500;")
            (statement,) = [row[2] for row in held(record, old)[0] if row[0] == "trigger"]
            file.execute(statement)

    monkeypatch.setattr(converting, "_write", wrong)
    with pytest.raises(StorageError, match="STORE-013"):
        converting.convert(record, None, keys[0])
    assert look(record).kind is Kind.PLAIN


def test_a_record_that_somebody_reads_is_left_alone(record: Path, keys) -> None:
    # By the same driver: another one within this process would not meet its locks.
    with closing(driver.opened(record, None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT * FROM t").fetchone()
        with pytest.raises(StorageError, match="STORE-013"):
            converting.convert(record, None, keys[0])
    assert look(record).kind is Kind.PLAIN


def test_a_disk_that_is_full_leaves_it_as_it_was(record: Path, keys, monkeypatch) -> None:
    def full(_path: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(converting, "_sync", full)
    before = held(record, None)
    with pytest.raises(StorageError, match="No space left"):
        converting.convert(record, None, keys[0])
    assert held(record, None) == before
    assert not configured.unfinished(record).exists()


def test_a_damaged_record_is_not_taken_for_a_whole_one(record: Path, keys) -> None:
    one = keys[0]
    converting.convert(record, None, one)
    content = bytearray(record.read_bytes())
    content[3 * 4096 + 50] ^= 1
    record.write_bytes(content)
    with pytest.raises(StorageError, match="STORE-013"):
        converting.convert(record, one, None)
    assert record.read_bytes() == bytes(content)
