"""The seals go with a backup, and a copy that does not contain every one of them is said."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.core.management import call_command

from lifted import triggers_lifted
from people import BORN_AT, an_id
from suffice.care.backup.key import Key
from suffice.care.backup.making import make_backup
from suffice.care.backup.restoring import restore
from suffice.care.backup.seals import Seals
from suffice.clinical.entry import Infant
from suffice.record import models, repository, seal
from suffice.record.verify import Wrong, verify

pytestmark = pytest.mark.django_db(transaction=True)

KEY = Key(secret=bytes(range(32)))
NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path) -> Path:
    settings.HOME = tmp_path / "home"
    settings.HOME.mkdir()
    for number, name in enumerate(("one", "two")):
        infant = Infant(id=an_id(f"infant {name}"), position=1)
        repository.open_family(an_id(name), [infant], opened_at=BORN_AT, opened_by="consultant")
        seal.seal(date(2026, 5, 30 + number))
    return settings.HOME


def empty() -> None:
    """As a record is before anything is on it."""
    with triggers_lifted():
        call_command("flush", interactive=False, verbosity=0)


def backup(tmp_path: Path):
    folder = tmp_path / "backups"
    folder.mkdir()
    return make_backup(folder, KEY, now=NOW)


def test_a_restored_record_is_checked_against_the_seals_that_came_with_it(home, tmp_path) -> None:
    before = seal.path().read_bytes()
    made = backup(tmp_path)
    assert made.unsealed_count == 0
    empty()
    done = restore(made.path, KEY)
    assert done.unsealed_count == 0
    assert seal.path().read_bytes() == before
    assert len(list(home.glob("seals-before-*"))) == 1
    assert verify().found == ()


def test_a_copy_without_a_seal_that_was_written_down_is_made_and_said(tmp_path) -> None:
    with triggers_lifted():
        models.Link.objects.filter(chain="seals", number=2).delete()
    made = backup(tmp_path)
    assert made.unsealed_count == 1
    empty()
    done = restore(made.path, KEY)
    assert done.unsealed_count == 1
    assert Wrong.SEAL in {one.wrong for one in verify().found}


def test_a_record_without_seals_is_missing_none(tmp_path) -> None:
    seal.path().unlink()
    made = backup(tmp_path)
    assert made.unsealed_count == 0
    empty()
    assert restore(made.path, KEY).unsealed_count == 0


def test_links_of_a_table_are_read_by_the_names_of_its_columns() -> None:
    seals = Seals()
    seals.read_file([b'{"number":1,"hash":"aa"}\n{"number":2,', b'"hash":"bb"}\n{"num'])
    assert seals.missing_count == 2
    seals.read_links([b"seq,hash,chain\n1\taa\tseals\n2\tb", b"b\ttrail\n"])
    assert seals.missing_count == 1
    seals.read_links([b"seq,name\n1\tbb\n"])
    assert seals.missing_count == 1
