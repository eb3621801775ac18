"""What lies beside an encrypted record is of use to nobody who takes the disk."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.conf import settings

from people import BORN_AT, an_entry, an_id
from suffice.care import doctor, upgrade, uploads
from suffice.care.backup import reaching
from suffice.care.backup.key import copies_key, read_key
from suffice.clinical.entry import Identity, Infant
from suffice.record import repository
from suffice.record.cipher.key import VARIABLE, RecordKey

NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)
NAME = "Philippa Inventada"


@pytest.fixture
def home(tmp_path: Path, settings) -> Path:
    settings.HOME = tmp_path
    return tmp_path


def test_files_that_wait_need_the_key_of_the_record_too(home: Path, settings) -> None:
    settings.RECORD_KEY = RecordKey(secret=bytes(32))
    waiting = uploads.keep(NAME.encode(), by=1)
    assert uploads.kept(waiting) == NAME.encode()
    settings.RECORD_KEY = RecordKey(secret=b"\\1" * 32)
    assert uploads.kept(waiting) is None
    settings.RECORD_KEY = None
    assert uploads.kept(waiting) is None


def test_copies_of_before_go_with_their_key(home: Path) -> None:
    (home / "before-upgrade").mkdir()
    (home / "before-upgrade" / "one.backup").write_bytes(b"sealed")
    (home / "before-upgrade-key").write_bytes(b"beside it")
    upgrade.forget_copies()
    assert [*home.glob("before-upgrade*")] == []
    upgrade.forget_copies()


@pytest.mark.django_db(transaction=True)
def test_a_copy_before_an_upgrade_is_sealed_with_what_follows_from_the_records_key(home) -> None:
    key = settings.RECORD_KEY
    if key is None:
        pytest.skip("of an encrypted record: --engine encrypted")
    infant = Infant(id=an_id("infant"), position=1)
    repository.open_family(an_id("family"), [infant], opened_at=BORN_AT, opened_by="consultant")
    repository.append(an_id("family"), [an_entry("name", Identity(name=NAME), infant=infant)])
    made = upgrade._copy(NOW)
    assert made.stored.entries == 1
    assert copies_key(key).id.hex() in made.path.name
    assert read_key(Path(os.environ[VARIABLE])) == copies_key(key)
    assert not (home / "before-upgrade-key").exists()
    # So that an erasure reaches it too:
    assert [one.key_id for one in reaching.folders()] == [copies_key(key).id.hex()]
    assert [*reaching._keys(reaching.folders()[0])] == [copies_key(key)]
    everything = b"".join(one.read_bytes() for one in home.rglob("*") if one.is_file())
    assert NAME.encode() not in everything
    upgrade.forget_copies()
    assert reaching.folders() == ()


@pytest.mark.django_db
def test_the_doctor_says_whether_it_is_encrypted() -> None:
    said = str(doctor._engine().state)
    if settings.RECORD_KEY is None:
        assert "not encrypted by the program: its disk must be" in said
    else:
        assert f"encrypted whole with the key {settings.RECORD_KEY.id.hex()}" in said
        assert "SQLCipher" in said
