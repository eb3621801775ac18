"""What a backup tells of a family goes with the family's key, in every backup that was ever made."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest

from people import BORN_AT, an_entry, an_id
from suffice.care.backup import family_keys, making
from suffice.care.backup.making import make_backup
from suffice.care.backup.restoring import restore
from suffice.care.backup.sealed import Reader
from suffice.care.photographs import sealed as photographs
from suffice.clinical.entry import Identity, Infant, Weight
from suffice.errors import InputError
from suffice.record import erasure, repository, teams
from suffice.record.verify import verify
from unit.care.backup.test_backup import KEY, empty, home  # noqa: F401 -- the fixture

pytestmark = pytest.mark.django_db(transaction=True)

NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)
FAMILY, OTHER = an_id("family"), an_id("other")
NAME = "Inventada Zarzamora"
PICTURE = b"a picture of the family, as the disk has it"


@pytest.fixture(autouse=True)
def record(home: Path) -> None:  # noqa: F811
    first = teams.first_team(now=BORN_AT)
    for family in (FAMILY, OTHER):
        infant = Infant(id=an_id(f"infant of {family}"), position=1)
        repository.open_family(family, [infant], opened_at=BORN_AT, opened_by="one")
        name = an_entry(f"name {family}", Identity(name=f"{NAME} {family}"), infant=infant)
        weight = an_entry(f"weight {family}", Weight(weight_g=3280.0), infant=infant)
        repository.append(family, [name, weight])
        teams.place([family], first, now=BORN_AT, by="one", note=f"ask {NAME} {family}")
        photographs.keep(family, an_id("picture"), PICTURE)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "backups"
    made.mkdir()
    return made


def within(path: Path) -> bytes:
    """All that whoever has the clinic's key can read of a backup."""
    with path.open("rb") as file:
        reader, content = Reader(file, KEY, path.name), b""
        while piece := reader.read(1024 * 1024):
            content += piece
    return content


def erase(family: UUID = FAMILY) -> None:
    erasure.ask(erasure.Request(family_id=family, at=NOW, by="one", why="retention"))
    erasure.erase(family, by="two", now=NOW)
    family_keys.destroy([family])


def test_the_clinics_key_alone_reads_nothing_of_a_family(folder: Path) -> None:
    held = within(make_backup(folder, KEY, now=NOW).path)
    assert b"record_entry" in held, "else it was not read"
    sealed = (photographs.folder() / str(FAMILY) / f"{an_id('picture')}.sealed").read_bytes()
    for secret in (NAME.encode(), b"3280", sealed):
        assert secret not in held


def test_a_backup_from_before_an_erasure_is_restored_without_the_family(folder: Path) -> None:
    before = make_backup(folder, KEY, now=NOW).path
    erase()
    make_backup(folder, KEY, now=NOW + timedelta(days=1))
    empty()
    shutil.rmtree(photographs.folder())
    done = restore(before, KEY)
    assert (done.manifest.stored.entries, done.stored.entries) == (4, 2)
    with pytest.raises(InputError, match="RECORD-001"):
        repository.read(FAMILY)
    assert len(repository.read(OTHER).entries) == 2
    assert [(one.family_id, one.erased_by) for one in erasure.every()] == [(FAMILY, "two")]
    assert verify().found == ()
    assert photographs.families() == {OTHER}
    infants = [Infant(id=an_id("another"), position=1)]
    with pytest.raises(InputError, match="RECORD-017"):
        repository.open_family(FAMILY, infants, opened_at=NOW, opened_by="one")


def test_the_key_beside_the_record_goes_at_once_and_the_copy_with_the_next_backup(folder) -> None:
    make_backup(folder, KEY, now=NOW)
    kept = family_keys.ring_beside(folder / "x.backup", KEY, None).keys[FAMILY]
    erase()
    assert family_keys.have_keys([FAMILY, OTHER]) == {OTHER}
    assert kept == family_keys.ring_beside(folder / "x.backup", KEY, None).keys[FAMILY]
    make_backup(folder, KEY, now=NOW + timedelta(days=1))
    ring = family_keys.ring_beside(folder / "x.backup", KEY, None)
    assert set(ring.keys) == {OTHER}
    assert [one.family_id for one in ring.erased] == [FAMILY]


def test_without_the_keys_a_backup_is_refused_and_says_what_is_missing(folder, tmp_path) -> None:
    path = make_backup(folder, KEY, now=NOW).path
    copy = family_keys.copy_in(folder, KEY)
    aside = copy.rename(tmp_path / "aside.families")
    empty()
    with pytest.raises(InputError, match="BACKUP-018"):
        restore(path, KEY)
    assert restore(path, KEY, aside).stored.entries == 4
    assert family_keys.have_keys([FAMILY, OTHER]) == {FAMILY, OTHER}


def test_a_file_of_keys_that_was_lost_is_made_good_by_the_copy(folder, home) -> None:  # noqa: F811
    early = make_backup(folder, KEY, now=NOW).path
    (home / family_keys.FILE).unlink()
    make_backup(folder, KEY, now=NOW + timedelta(days=1))
    empty()
    assert restore(early, KEY).stored.entries == 4


def test_keys_are_read_by_their_owner_only(folder, home) -> None:  # noqa: F811
    make_backup(folder, KEY, now=NOW)
    for path in (home / family_keys.FILE, family_keys.copy_in(folder, KEY)):
        assert path.stat().st_mode & 0o077 == 0
    ring = family_keys.own_ring()
    assert ring.keys[FAMILY] != ring.keys[OTHER]
    assert ring.keys[FAMILY] not in family_keys.copy_in(folder, KEY).read_bytes()


def test_a_backup_from_before_there_were_keys_is_restored_and_erased_again(
    folder, monkeypatch
) -> None:
    monkeypatch.setattr(making, "seal_file", lambda _copy, _seal: None)
    monkeypatch.setattr(making, "seal_members", lambda _ring, members: members)
    old = make_backup(folder, KEY, now=NOW).path
    monkeypatch.undo()
    assert NAME.encode() in within(old)
    family_keys.copy_in(folder, KEY).unlink()
    empty()
    assert restore(old, KEY).stored.entries == 4
    erase()
    make_backup(folder, KEY, now=NOW + timedelta(days=1))
    empty()
    restore(old, KEY)
    with pytest.raises(InputError, match="RECORD-001"):
        repository.read(FAMILY)
    assert verify().found == ()


def test_a_block_that_was_altered_or_is_of_another_family_is_refused(folder) -> None:
    ring = family_keys.Ring()
    sealed = ring.seal(FAMILY, b"what is told of it")
    ring.keys[OTHER] = ring.keys[FAMILY]
    opening = family_keys.Opening(ring, "name")
    assert opening(FAMILY, sealed, "record_entry", 1) == b"what is told of it"
    for family, content in ((OTHER, sealed), (FAMILY, sealed[:-1] + b"x")):
        with pytest.raises(InputError, match="BACKUP-008"):
            opening(family, content, "record_entry", 1)


def test_a_path_of_a_photograph_names_its_family() -> None:
    assert family_keys.family_of(f"photographs/{FAMILY}/x.sealed") == FAMILY
    for path in ("photograph-key", "photographs/x/y", f"photographs/{FAMILY}", "a/b/c"):
        assert family_keys.family_of(path) is None
