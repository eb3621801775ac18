"""`suffice check --deploy` finds each thing that is not safe, and nothing where all is well."""

from __future__ import annotations

import os
import shlex
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from record_file import a_key
from suffice.care import doctor
from suffice.care.backup import shelf
from suffice.care.backup.shelf import LastGood, note_good
from suffice.cli import deploy, store
from suffice.errors import InputError
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of
from suffice.record.values import Stored

NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)


@pytest.fixture
def home(tmp_path: Path, settings, monkeypatch) -> Path:
    """The folder of a record that is safe, backed up an hour ago to another disk."""
    folder = tmp_path / "home"
    folder.mkdir(mode=0o700)
    for name in ("suffice.sqlite3", "secret-key"):
        (folder / name).touch(mode=0o600)
    settings.HOME = folder
    monkeypatch.setenv("SUFFICE_HOSTS", "clinic.example")
    monkeypatch.setattr(deploy, "_elsewhere", lambda *_: iter(()))
    monkeypatch.setattr(doctor.shutil, "disk_usage", lambda _: SimpleNamespace(free=10**12))
    backed_up(NOW - timedelta(hours=1), folder)
    return folder


def backed_up(at: datetime, folder: Path) -> None:
    path = folder / "kept.backup"
    path.touch(mode=0o600)
    note_good(LastGood(path=str(path), made_at=at, stored=Stored(families=1, entries=2)))


def safe(home: Path, **changes: object) -> SimpleNamespace:
    held = {
        "HOME": home,
        "DEBUG": False,
        "SECRET_KEY": "k" * 50,
        "ALLOWED_HOSTS": ["clinic.example"],
        "SESSION_COOKIE_SECURE": True,
        "SUFFICE_PROXIES": ["127.0.0.1"],
        "SECURE_HSTS_SECONDS": 31_536_000,
        "CSRF_TRUSTED_ORIGINS": ["https://clinic.example"],
        "DATABASES": {"default": {"ENGINE": "django.db.backends.sqlite3"}},
        "SUFFICE_OIDC": {"issuer": ""},
    }
    return SimpleNamespace(**held | changes)


def codes(settings: SimpleNamespace, now: datetime = NOW) -> list[str]:
    found = [*deploy.unsafe(settings), *deploy.unsaved(settings, now)]
    return [problem.code for problem in found]


def postgres(host: str, **options: str) -> dict[str, object]:
    engine = "django.db.backends.postgresql"
    return {"DATABASES": {"default": {"ENGINE": engine, "HOST": host, "OPTIONS": options}}}


def provider(issuer: str) -> dict[str, object]:
    return {"SUFFICE_OIDC": {"issuer": issuer}}


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({}, []),
        ({"DEBUG": True}, ["DEPLOY-001"]),
        ({"SECRET_KEY": "k" * 49}, ["DEPLOY-002"]),
        ({"ALLOWED_HOSTS": ["*"]}, ["DEPLOY-004"]),
        ({"SESSION_COOKIE_SECURE": False}, ["DEPLOY-005"]),
        ({"SUFFICE_PROXIES": []}, ["DEPLOY-006"]),
        ({"SECURE_HSTS_SECONDS": 3600}, ["DEPLOY-007"]),
        ({"CSRF_TRUSTED_ORIGINS": ["http://clinic.example"]}, ["DEPLOY-008"]),
        ({"CSRF_TRUSTED_ORIGINS": ["https://*.example"]}, ["DEPLOY-008"]),
        (postgres("db.example"), ["DEPLOY-009"]),
        (postgres("db.example", sslmode="prefer"), ["DEPLOY-009"]),
        (postgres("db.example", sslmode="verify-full"), []),
        (postgres("127.0.0.1"), []),
        (postgres("/run/postgresql"), []),
        (provider("http://id.hospital.example/realms/staff"), ["DEPLOY-017"]),
        (provider("id.hospital.example"), ["DEPLOY-017"]),
        (provider("https://id.hospital.example"), []),
        (provider("http://127.0.0.1:8010/o"), []),
    ],
)
def test_each_setting_that_is_not_safe_is_found(home: Path, changes, found) -> None:
    assert codes(safe(home, **changes)) == found


def test_hosts_that_nobody_named_are_found(home: Path, monkeypatch) -> None:
    monkeypatch.delenv("SUFFICE_HOSTS")
    assert codes(safe(home)) == ["DEPLOY-004"]


@pytest.mark.parametrize("name", ["", "suffice.sqlite3", "secret-key"])
def test_what_others_can_read_is_found(home: Path, name: str) -> None:
    (home / name).chmod((home / name).stat().st_mode | 0o040)
    assert codes(safe(home)) == ["DEPLOY-010"]


def test_keys_on_the_disk_of_an_encrypted_record_are_found(
    home: Path, tmp_path: Path, monkeypatch
) -> None:
    place, key = a_key(tmp_path)
    monkeypatch.setenv("SUFFICE_RECORD_KEY", str(place))
    (home / "photograph-key").touch(mode=0o600)
    assert codes(safe(home)) == []
    assert codes(safe(home, RECORD_KEY=key)) == ["DEPLOY-015", "DEPLOY-016"]
    monkeypatch.setattr(deploy, "_is_on_disk_of", lambda *_: False)
    (home / "photograph-key").unlink()
    assert codes(safe(home, RECORD_KEY=key)) == []


def test_whether_the_record_is_encrypted_is_said(tmp_path: Path, capsys) -> None:
    key = a_key(tmp_path)[1]
    deploy._say_encryption(SimpleNamespace(RECORD_KEY=key))
    deploy._say_encryption(SimpleNamespace(RECORD_KEY=None))
    encrypted, plain = capsys.readouterr().out.splitlines()
    assert key.id.hex() in encrypted
    assert "not encrypted" in plain


@pytest.mark.django_db
def test_the_first_passphrase_is_found_until_it_is_changed(home: Path) -> None:
    from suffice.care.clinic import people  # noqa: PLC0415

    (home / "first-passphrase").touch(mode=0o600)
    (home / "first-passphrase").write_text("seven calm green herons\n")
    people.add_user("consultant", "seven calm green herons", now=datetime.now(UTC), is_admin=True)
    assert codes(safe(home)) == ["DEPLOY-003"]
    (home / "first-passphrase").write_text("another one by now\n")
    assert codes(safe(home)) == []


@pytest.mark.parametrize(
    ("age_h", "found"), [(0, []), (36, []), (37, ["DEPLOY-012"]), (-1, ["DEPLOY-012"])]
)
def test_a_backup_that_is_old_is_found(home: Path, age_h: float, found: list[str]) -> None:
    backed_up(NOW - timedelta(hours=age_h), home)
    assert codes(safe(home)) == found


@pytest.mark.parametrize("note", [None, b"{", b"[]"])
def test_no_backup_or_a_note_that_cannot_be_read_is_found(home: Path, note) -> None:
    (home / shelf.NOTE).unlink()
    if note is not None:
        (home / shelf.NOTE).write_bytes(note)
    assert codes(safe(home)) == ["DEPLOY-011"]


def test_a_full_disk_is_found(home: Path, monkeypatch) -> None:
    monkeypatch.setattr(doctor.shutil, "disk_usage", lambda _: SimpleNamespace(free=10**9 - 1))
    assert codes(safe(home)) == ["DEPLOY-014"]
    monkeypatch.setattr(doctor.shutil, "disk_usage", lambda _: SimpleNamespace(free=10**9))
    assert codes(safe(home)) == []
    os.truncate(home / "suffice.sqlite3", 4 * 10**8)
    assert codes(safe(home)) == ["DEPLOY-014"]


def test_a_backup_on_the_records_own_disk_or_gone_is_found(tmp_path: Path) -> None:
    there = tmp_path / "a.backup"
    there.touch()
    assert [one.code for one in deploy._elsewhere(there, tmp_path)] == ["DEPLOY-013"]
    assert [one.code for one in deploy._elsewhere(tmp_path / "gone", tmp_path)] == ["DEPLOY-013"]
    assert list(deploy._elsewhere(there, Path("/proc"))) == []


def test_the_key_of_the_backups_on_their_disk_is_found(tmp_path: Path, monkeypatch) -> None:
    backup, key = tmp_path / "a.backup", tmp_path / "backup-key"
    backup.touch()
    key.touch()
    assert list(deploy._elsewhere(backup, Path("/proc"))) == []
    monkeypatch.setenv("SUFFICE_BACKUP_KEY", str(key))
    assert [one.code for one in deploy._elsewhere(backup, Path("/proc"))] == ["DEPLOY-018"]
    monkeypatch.setenv("SUFFICE_BACKUP_KEY", "/proc/version")
    assert list(deploy._elsewhere(backup, Path("/proc/self"))) == []


def test_the_command_that_is_told_is_one_for_a_folder_with_a_gap_in_its_name(
    home: Path, tmp_path: Path
) -> None:
    folder = home.rename(tmp_path / "my record")
    folder.chmod(0o755)
    (found,) = (one for one in deploy._folder(folder))
    told = text_of(found.fix, Policy())
    assert shlex.split(told) == ["chmod", "700", str(folder)]


@pytest.mark.parametrize("variable", ["SUFFICE_HSTS_S", "SUFFICE_PROXIES"])
def test_a_setting_that_is_none_is_said_by_its_name(monkeypatch, variable: str) -> None:
    import django  # noqa: PLC0415
    from django.core.exceptions import ImproperlyConfigured  # noqa: PLC0415

    def refuse() -> None:
        raise ImproperlyConfigured(variable, "a month")

    monkeypatch.setattr(django, "setup", refuse)
    with pytest.raises(InputError, match=f"CLI-017: {variable}=a month"):
        store.open_record()
