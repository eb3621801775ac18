"""Tables are brought up to date alone and after a copy, or not at all."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from people import BORN_AT, an_id
from suffice.care import upgrade
from suffice.care.backup.shelf import last_good
from suffice.clinical.entry import Infant
from suffice.errors import StorageError
from suffice.record import one_version, repository, state, whole

pytestmark = pytest.mark.django_db(transaction=True)

NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path, monkeypatch) -> Path:
    """The folder of a record that is behind by a migration; its running is only noted."""
    settings.HOME = tmp_path
    monkeypatch.setattr(one_version, "join", lambda: None)
    monkeypatch.setattr(state, "pending_migrations", lambda: ("record 9999_later",))
    monkeypatch.setattr(upgrade.steps, "bring_up_to_date", (tmp_path / "ran").touch)
    return tmp_path


def bring(**options):
    return upgrade.bring_up_to_date(now=NOW, wait_s=0.1, **options)


def ran() -> bool:
    from django.conf import settings  # noqa: PLC0415

    return (settings.HOME / "ran").exists()


def on_record() -> None:
    infant = Infant(id=an_id("infant"), position=1)
    repository.open_family(an_id("family"), [infant], opened_at=BORN_AT, opened_by="consultant")


def code(**options) -> str:
    with pytest.raises(StorageError) as refused:
        bring(**options)
    assert not ran()
    return refused.value.problems[0].code


def test_a_copy_is_made_first_and_is_not_the_clinics_backup(home: Path) -> None:
    on_record()
    done = bring()
    assert done is not None
    assert done.copy is not None
    assert done.copy.stored.families == 1
    assert done.copy.path.parent == home / upgrade.FOLDER
    assert (home / upgrade.FOLDER).stat().st_mode & 0o077 == 0
    assert (home / upgrade.KEY).stat().st_mode & 0o077 == 0
    assert last_good() is None
    assert ran()


def test_an_empty_record_needs_no_copy(home: Path) -> None:
    done = bring()
    assert done is not None
    assert done.copy is None
    assert not (home / upgrade.FOLDER).exists()


def test_tables_that_are_up_to_date_are_left_alone(monkeypatch) -> None:
    on_record()
    monkeypatch.setattr(state, "pending_migrations", lambda: ())
    assert bring() is None
    assert not ran()


def test_nothing_is_changed_while_the_record_is_served_or_in_use(monkeypatch) -> None:
    on_record()
    assert code(is_served=True) == "STORE-002"

    def others(_wait_s: float) -> None:
        raise one_version.OthersError

    monkeypatch.setattr(one_version, "alone", others)
    assert code() == "STORE-002"


def test_tables_of_a_newer_version_are_left_alone(monkeypatch) -> None:
    monkeypatch.setattr(whole, "unknown_migrations", lambda _: [("record", "9999_later")])
    assert code() == "STORE-003"


def test_without_a_copy_nothing_is_changed(home: Path) -> None:
    on_record()
    (home / upgrade.FOLDER).write_text("a file in its place")
    assert code() == "STORE-004"


def test_a_copy_that_fails_says_why(monkeypatch) -> None:
    on_record()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("suffice.care.backup.making.os.fsync", full)
    with pytest.raises(StorageError) as refused:
        bring()
    said, reason = refused.value.problems
    assert said.code == "STORE-004"
    assert "No space left on device" in str(reason)
    assert not ran()
