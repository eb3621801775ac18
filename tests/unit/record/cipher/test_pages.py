"""Pages turned from encrypted to not and back are those that SQLCipher and SQLite themselves read."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlcipher3 import dbapi2

from record_file import a_key
from suffice.record.cipher import driver, pages
from suffice.record.cipher.key import Kind, RecordKey, look

WORD = "Mirabella Inventada"
SCHEMA = """
CREATE TABLE "one" (id integer PRIMARY KEY AUTOINCREMENT, text text UNIQUE, amount real, raw blob);
CREATE TABLE two (name text PRIMARY KEY, kept text NOT NULL DEFAULT 'yes');
CREATE INDEX by_amount ON one (amount);
CREATE TRIGGER one_no_delete BEFORE DELETE ON one BEGIN SELECT raise(ABORT, 'append only'); END;
CREATE TRIGGER two_no_insert BEFORE INSERT ON two BEGIN SELECT raise(ABORT, 'closed'); END;
"""
ROWS = [(f"{WORD} {one}", one / 7, bytes([one % 256]) * 300) for one in range(1, 400)]
ASKED = ("SELECT * FROM one", "SELECT * FROM two", "SELECT * FROM sqlite_sequence")
MASTER = "SELECT type, name, sql FROM sqlite_master ORDER BY type, name"


def fill(file: sqlite3.Connection) -> None:
    closing_trigger = SCHEMA.rindex("CREATE TRIGGER")
    file.executescript(SCHEMA[:closing_trigger])
    file.executemany("INSERT INTO one (text, amount, raw) VALUES (?, ?, ?)", ROWS)
    file.execute("INSERT INTO two (name) VALUES ('first')")
    file.executescript(SCHEMA[closing_trigger:])
    file.commit()


def held(file: sqlite3.Connection) -> list[list[tuple[object, ...]]]:
    return [file.execute(asked).fetchall() for asked in (*ASKED, MASTER)]


@pytest.fixture
def key(tmp_path: Path) -> RecordKey:
    return a_key(tmp_path)[1]


@pytest.fixture
def plain(tmp_path: Path) -> Path:
    path = tmp_path / "plain"
    with closing(sqlite3.connect(path)) as file:
        fill(file)
    return path


@pytest.fixture
def encrypted(tmp_path: Path, key: RecordKey) -> Path:
    path = tmp_path / "encrypted"
    driver.begin(path, key)
    with closing(driver.opened(path, key)) as file:
        fill(file)
    return path


def test_sqlite_reads_what_was_encrypted(encrypted: Path, plain: Path, key, tmp_path) -> None:
    out = tmp_path / "out"
    out.write_bytes(b"".join(pages.read(encrypted, key)))
    with closing(sqlite3.connect(out)) as file, closing(sqlite3.connect(plain)) as wanted:
        assert file.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert held(file) == held(wanted)


@pytest.mark.parametrize("step", [1, 4095, 4096, 100_000])
def test_sqlcipher_reads_what_comes_back(encrypted: Path, key, tmp_path: Path, step: int) -> None:
    content, back = b"".join(pages.read(encrypted, key)), tmp_path / "back"
    few = content[: 3 * step]
    parts = [few[at : at + step] for at in range(0, len(few), step)]
    pages.write([*parts, content[len(few) :]], back, key)
    assert look(back).kind is Kind.ENCRYPTED
    assert look(back).key_id == key.id
    with closing(driver.opened(back, key)) as file, closing(driver.opened(encrypted, key)) as was:
        assert file.execute("PRAGMA cipher_integrity_check").fetchall() == []
        assert file.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert held(file) == held(was)


def test_a_copy_that_never_was_encrypted_is_taken_too(plain: Path, key, tmp_path: Path) -> None:
    made = tmp_path / "made"
    pages.write([plain.read_bytes()], made, key)
    with closing(driver.opened(made, key)) as file, closing(sqlite3.connect(plain)) as was:
        assert file.execute("PRAGMA cipher_integrity_check").fetchall() == []
        assert held(file) == held(was)
        with pytest.raises(dbapi2.Error, match="append only"):
            file.execute("DELETE FROM one")
    assert look(made).key_id == key.id
    assert WORD.encode() not in made.read_bytes()
    assert made.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("page", [0, 1, 20])
@pytest.mark.parametrize("at", [17, 2000, 4020, 4095])
def test_a_page_that_was_changed_by_a_bit_is_refused(encrypted: Path, key, page, at) -> None:
    content = bytearray(encrypted.read_bytes())
    content[page * pages.PAGE_BYTES + at] ^= 1
    encrypted.write_bytes(content)
    with pytest.raises(OSError, match="Input/output error"):
        b"".join(pages.read(encrypted, key))


def test_pages_that_changed_places_are_refused(encrypted: Path, key) -> None:
    content, size = encrypted.read_bytes(), pages.PAGE_BYTES
    first, second = content[size : 2 * size], content[2 * size : 3 * size]
    encrypted.write_bytes(content[:size] + second + first + content[3 * size :])
    with pytest.raises(OSError, match="Input/output error"):
        b"".join(pages.read(encrypted, key))


def test_another_key_reads_nothing(encrypted: Path, tmp_path: Path) -> None:
    other = a_key(tmp_path, "other")[1]
    with pytest.raises(OSError, match="Input/output error"):
        b"".join(pages.read(encrypted, other))


def test_the_page_that_sqlite_never_writes_is_left_out() -> None:
    """It is a gigabyte into the file: nobody makes such a file for a test."""
    key = RecordKey(secret=bytes(32))
    turned = pages._Pages(key, bytes(16))
    assert turned.opened(pages.LOCK_PAGE, b"\1" * pages.PAGE_BYTES) == pages.NOTHING
    assert turned.sealed(pages.LOCK_PAGE, b"\1" * pages.PAGE_BYTES, b"") == pages.NOTHING
    assert (pages.LOCK_PAGE - 1) * pages.PAGE_BYTES == 0x40000000
