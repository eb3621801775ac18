"""What was erased is in no file of the database, now or after the next quiet night, and nobody waits for it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from types import SimpleNamespace
from uuid import UUID

import pytest
from django.db import connection, transaction

from people import BORN_AT, an_entry, an_id
from suffice.care import trail
from suffice.care.family import erasing
from suffice.clinical.entry import Identity, Infant, Weight
from suffice.record import erasure, repository, sqlite_file, teams, wiping

pytestmark = pytest.mark.django_db(transaction=True)

NAME = "Inventada Zarzamora"
FAMILY = an_id("family")
NOW = datetime(2040, 1, 1, 12, tzinfo=UTC)


OF = {
    key: Infant(id=an_id(f"infant of {key}"), position=1)
    for key in (FAMILY, *(an_id(f"other {number}") for number in range(20)))
}


@pytest.fixture(autouse=True)
def record(settings, tmp_path: Path) -> None:
    """A family among others."""
    settings.HOME = tmp_path
    erasing._not_before.clear()
    erasing._waits.clear()
    first = teams.first_team(now=BORN_AT)
    for key, infant in OF.items():
        repository.open_family(key, [infant], opened_at=BORN_AT, opened_by="one")
        teams.place([key], first, now=BORN_AT, by="one", note=words_of(key))
    repository.append(FAMILY, [an_entry("name", Identity(name=NAME), infant=OF[FAMILY])])


_FILLED: list[sqlite3.Connection] = []
"""The file page by page as it was once filled, what was moved and divided in it too."""


@pytest.fixture
def in_a_file(record: None) -> None:
    """Entries of all of them stored by turns, so that pages were divided and rows moved between them."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL's files are its own; VACUUM is asked for there")
    if sqlite_file.is_encrypted():
        pytest.skip("nothing can be read in its files, erased or not")
    if _FILLED:
        _FILLED[0].backup(connection.connection)
        return
    dice = Random(1)
    for number in range(400):
        key = FAMILY if number % 5 == 0 else dice.choice(list(OF))
        fact = Identity(name=words_of(key)) if number % 2 else Weight(weight_g=3280.0 + number)
        repository.append(key, [an_entry(f"{key} {number}", fact, infant=OF[key])])
    kept = sqlite3.connect(":memory:")
    connection.connection.backup(kept)
    _FILLED.append(kept)


def words_of(key: UUID) -> str:
    return f"{NAME} {key if key == FAMILY else 'other'}"


def files() -> bytes:
    """All that the disk has of the database: the file, its log, what is beside them."""
    path = Path(str(connection.settings_dict["NAME"]))
    return b"".join(one.read_bytes() for one in path.parent.glob(f"{path.name}*"))


def is_there() -> bool:
    return words_of(FAMILY).encode() in files()


def erase() -> None:
    erasure.ask(erasure.Request(family_id=FAMILY, at=NOW, by="one", why="retention"))
    erasure.erase(FAMILY, by="two", now=NOW)


def test_nothing_is_owed_when_the_erasure_returns() -> None:
    erase()
    assert not wiping.is_owed()


@pytest.mark.usefixtures("in_a_file")
def test_it_is_gone_from_every_file_when_the_erasure_returns() -> None:
    erase()
    assert not is_there()
    assert f"{NAME} other".encode() in files(), "that of others is there"


@pytest.mark.usefixtures("in_a_file")
def test_what_is_deleted_is_written_over_before_the_file_is_made_anew(monkeypatch) -> None:
    monkeypatch.setattr(wiping, "wipe", lambda *_: False)
    erase()
    with connection.cursor() as cursor:
        assert cursor.execute("PRAGMA secure_delete").fetchone() == (1,)
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert not is_there()


@pytest.mark.usefixtures("in_a_file")
def test_a_record_that_takes_too_long_is_left_to_a_quiet_night(monkeypatch) -> None:
    monkeypatch.setattr(wiping, "STEPS", 10)
    monkeypatch.setattr(wiping.wipe, "__defaults__", (0.0,))
    erase()
    assert wiping.is_owed()
    # The log is emptied all the same.
    assert not is_there()
    assert len(repository.family_ids()) == 20
    # By day, and in a night in which somebody works, nobody is kept waiting.
    erasing.sweep_erased()
    assert wiping.is_owed()
    now = datetime.now(UTC)
    trail.note(trail.Act.READ, who="one", page="family", now=now - timedelta(minutes=9))
    erasing.sweep_erased(is_night=True)
    assert wiping.is_owed()
    monkeypatch.setattr(trail, "QUIET_FOR", timedelta(minutes=8))
    erasing.sweep_erased(is_night=True)
    assert not wiping.is_owed()
    assert not is_there()


@pytest.mark.usefixtures("in_a_file")
def test_or_to_the_next_start(monkeypatch) -> None:
    monkeypatch.setattr(wiping, "STEPS", 10)
    monkeypatch.setattr(wiping.wipe, "__defaults__", (0.0,))
    erase()
    erasing.wipe_before_anybody_comes()
    assert not wiping.is_owed()
    assert not is_there()


@pytest.mark.usefixtures("in_a_file")
def test_somebody_who_reads_for_long_keeps_nobody_from_saving(monkeypatch) -> None:
    """The log cannot be emptied under a reader; it is done later, and savers wait half a second at most."""
    waited: list[int] = []
    real = wiping._sqlite

    def seen(limit_s: float | None, noted: str) -> bool:
        done = real(limit_s, noted)
        with connection.cursor() as cursor:
            waited.append(cursor.execute("PRAGMA busy_timeout").fetchone()[0])
        return done

    monkeypatch.setattr(wiping, "_sqlite", seen)
    with closing(sqlite3.connect(str(connection.settings_dict["NAME"]))) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM record_entry").fetchone()
        erase()
        assert wiping.is_owed()
        assert waited == [20_000], "others wait as long as ever again"
    assert wiping.wipe()
    assert not is_there()


@pytest.mark.usefixtures("in_a_file")
def test_under_a_long_reader_the_file_is_made_anew_once_and_less_and_less_is_tried(
    monkeypatch,
) -> None:
    statements: list[str] = []

    def seen(execute, sql, *rest):
        statements.append(sql)
        return execute(sql, *rest)

    monkeypatch.setattr(trail, "is_quiet", lambda _now: True)
    clock = SimpleNamespace(now=lambda: at)
    monkeypatch.setattr(erasing, "timezone", clock)
    with closing(sqlite3.connect(str(connection.settings_dict["NAME"]))) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM record_entry").fetchone()
        erase()
        with connection.execute_wrapper(seen):
            for minute in range(200):
                at = NOW + timedelta(minutes=minute)
                erasing.sweep_erased(is_night=True)
        assert wiping.is_owed()
    tried = sum("wal_checkpoint" in one for one in statements)
    # After 0, 2, 6, 14, 30, 62, 122 and 182 minutes.
    assert (statements.count("VACUUM"), tried) == (0, 8)
    at = NOW + timedelta(minutes=300)
    erasing.sweep_erased(is_night=True)
    assert not wiping.is_owed()
    assert not is_there()


def test_within_a_transaction_nothing_is_wiped() -> None:
    wiping.owe()
    with transaction.atomic():
        assert not wiping.wipe()
    assert wiping.is_owed()


def test_an_erasure_beside_it_stays_owed(monkeypatch) -> None:
    """Its rows may have gone after the file was made anew."""
    wiping.owe()

    def beside(*_limit: object) -> bool:
        wiping.owe()
        return True

    monkeypatch.setattr(wiping, "_sqlite", beside)
    monkeypatch.setattr(wiping, "_postgres", beside)
    assert wiping.wipe()
    assert wiping.is_owed()


def test_that_it_is_owed_is_noted_before_anything_is_erased(monkeypatch) -> None:
    """A process that is killed after the act leaves the note."""
    seen = SimpleNamespace(owed=False)

    def look(*_rest: object) -> None:
        seen.owed = wiping.is_owed()
        raise RuntimeError

    monkeypatch.setattr(erasure, "_put", look)
    with pytest.raises(RuntimeError):
        erase()
    assert seen.owed


def test_what_is_erased_again_after_a_restore_is_owed_too() -> None:
    ask = erasure.Request(family_id=FAMILY, at=NOW, by="one", why="retention")
    done = erasure.Erased(
        family_id=FAMILY, asked_at=ask.at, asked_by=ask.by, why=ask.why,
        erased_at=NOW, erased_by="two", entry_count=1,
    )  # fmt: skip
    assert erasure.erase_again(done)
    assert wiping.is_owed()
    assert wiping.wipe(None)
    assert not wiping.is_owed()
    assert not erasure.erase_again(done)
    assert not wiping.is_owed()
