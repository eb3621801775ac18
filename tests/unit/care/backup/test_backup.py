"""A backup holds what the record holds, while others save; restored, it is that record again."""

from __future__ import annotations

import errno
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event, Thread

import msgspec
import pytest

from members import a_member
from people import BORN_AT, an_entry, an_id
from suffice.care.backup import family_keys, making, restoring, shelf
from suffice.care.backup.key import Key
from suffice.care.backup.making import make_backup
from suffice.care.backup.restoring import restore
from suffice.care.photographs import sealed as photographs
from suffice.clinical.entry import Identity, Infant, Weight, Withdrawal
from suffice.errors import InputError, StorageError, SufficeError
from suffice.record import jobs, policies, repository, whole

pytestmark = pytest.mark.django_db(transaction=True)

KEY = Key(secret=bytes(range(32)))
NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)
FAMILY = an_id("family")
INFANT = Infant(id=an_id("infant"), position=1)
PASSPHRASE = "seven calm green herons"
ODD_NAME = "Inventada\tde\\los 'Ejemplos'\nÑ"


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path) -> Path:
    settings.HOME = tmp_path / "home"
    settings.HOME.mkdir()
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    return settings.HOME


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "backups"
    made.mkdir()
    return made


@pytest.fixture
def on_record() -> dict[str, list[dict[str, object]]]:
    """One family with a correction and a withdrawal, a policy, a user, a job that has ended."""
    first = an_entry("first", Weight(weight_g=3120.0, clothing="naked"), infant=INFANT, at_h=50)
    right = Weight(weight_g=3210.0, clothing="naked")
    correction = an_entry("right", right, infant=INFANT, at_h=50, replaces=first)
    withdrawal = an_entry(
        "none", Withdrawal(reason="wrong infant"), infant=INFANT, at_h=50, replaces=correction
    )
    repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="consultant")
    name = an_entry("name", Identity(name=ODD_NAME), infant=None)
    repository.append(FAMILY, [name, first])
    repository.append(FAMILY, [correction])
    repository.append(FAMILY, [withdrawal])
    policies.append(an_id("policy"), {"zone": "UTC"}, entered_at=BORN_AT, entered_by="consultant")
    a_member("consultant", "lead", passphrase=PASSPHRASE, is_administrator=True)
    jobs.add(an_id("job"), "import", started_by="consultant", now=NOW)
    return rows()


def rows() -> dict[str, list[dict[str, object]]]:
    from django.apps import apps  # noqa: PLC0415

    return {
        model._meta.db_table: list(model._default_manager.order_by("pk").values())
        for model in apps.get_models()
        if model._meta.db_table not in whole.LEFT_OUT
    }


def empty() -> None:
    """As a record is before anything is on it."""
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import connection  # noqa: PLC0415

    from suffice.record import append_only  # noqa: PLC0415

    append_only.remove(connection)
    call_command("flush", interactive=False, verbosity=0)
    append_only.install(connection)


def backups(folder: Path) -> list[Path]:
    """What is in a folder besides the keys of the families."""
    return [path for path in folder.iterdir() if path.suffix != ".families"]


def refusal(path: Path, key: Key = KEY) -> str:
    before = rows()
    with pytest.raises(SufficeError) as refused:
        restore(path, key)
    assert rows() == before, "a refused restore changes nothing"
    return refused.value.problems[0].code


def test_a_restored_record_is_the_one_that_was_backed_up(folder, on_record) -> None:
    made = make_backup(folder, KEY, now=NOW)
    assert (made.stored.families, made.stored.entries) == (1, 4)
    assert made.stored.newest_at == BORN_AT + timedelta(hours=50, minutes=10)
    copy = family_keys.copy_in(folder, KEY)
    assert {path.name for path in folder.iterdir()} == {made.path.name, copy.name}
    assert made.path.stat().st_mode & 0o077 == 0
    assert ODD_NAME.encode() not in made.path.read_bytes()
    empty()
    done = restore(made.path, KEY)
    assert done.stored == made.stored
    assert rows() == on_record


def test_a_person_signs_in_to_the_restored_record_and_it_is_append_only_still(folder, on_record):
    from django.db import DatabaseError, transaction  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    from suffice.record import models  # noqa: PLC0415

    before = Client()
    before.login(username="consultant", password=PASSPHRASE)
    path = make_backup(folder, KEY, now=NOW).path
    empty()
    restore(path, KEY)
    assert before.get("/")["Location"].startswith("/sign-in/"), "sessions are not in a backup"
    again = Client()
    sent = {"username": "consultant", "password": PASSPHRASE}
    again.post("/sign-in/", sent)
    page = again.get(f"/families/{FAMILY}/entries/")
    assert (page.status_code, "Inventada" in page.content.decode()) == (200, True)
    for act in (models.Entry.everything.all().delete, models.Family.everything.all().delete):
        with pytest.raises(DatabaseError), transaction.atomic():
            act()
    added = an_entry("added", Weight(weight_g=3300.0, clothing="naked"), infant=INFANT, at_h=99)
    assert repository.append(FAMILY, [added]).new == (added.id,)


def test_numbers_of_jobs_go_on_where_they_were(folder, on_record) -> None:
    from suffice.record import models  # noqa: PLC0415

    last = jobs.add(an_id("another"), "import", started_by="consultant", now=NOW).number
    models.Job.objects.all().delete()
    path = make_backup(folder, KEY, now=NOW).path
    empty()
    restore(path, KEY)
    assert jobs.add(an_id("third"), "import", started_by="consultant", now=NOW).number == last + 1


def test_others_save_while_a_backup_is_made(folder, on_record) -> None:
    over, saved = Event(), []

    def save() -> None:
        from django.db import connection  # noqa: PLC0415

        try:
            while not over.is_set():
                fact = Weight(weight_g=3000.0 + len(saved), clothing="naked")
                entry = an_entry(f"s{len(saved)}", fact, infant=INFANT, at_h=60 + len(saved) / 60)
                saved.extend(repository.append(FAMILY, [entry]).new)
        finally:
            connection.close()

    thread = Thread(target=save)
    thread.start()
    try:
        while len(saved) < 3:
            over.wait(0.01)
        made = make_backup(folder, KEY, now=NOW)
    finally:
        over.set()
        thread.join()
    assert 4 + 3 <= made.stored.entries <= 4 + len(saved)
    empty()
    restore(made.path, KEY)
    kept = {entry.id for entry in repository.read(FAMILY).entries}
    assert set(saved[: made.stored.entries - 4]) <= kept
    assert len(kept) == made.stored.entries


@pytest.fixture
def half_way(folder, monkeypatch) -> Path:
    """A folder with one good backup, and a disk that gets full while the next is written."""
    good = make_backup(folder, KEY, now=NOW - timedelta(days=1)).path

    class Filling(making.Writer):
        written = 0

        def write(self, content: bytes) -> None:
            Filling.written += len(content)
            if Filling.written > 2000:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            super().write(content)

    monkeypatch.setattr(making, "Writer", Filling)
    return good


def test_a_full_disk_leaves_the_last_good_backup_and_no_half_one(folder, on_record, half_way, home):
    noted = shelf.last_good()
    content = half_way.read_bytes()
    with pytest.raises(StorageError, match=r"BACKUP-005.*no room"):
        make_backup(folder, KEY, now=NOW, keep=1)
    assert backups(folder) == [half_way]
    assert half_way.read_bytes() == content
    assert shelf.last_good() == noted
    assert list(home.glob(f"{shelf.WORK}*")) == []


def test_a_backup_that_does_not_hold_what_it_should_is_not_kept(folder, on_record, monkeypatch):
    good = make_backup(folder, KEY, now=NOW - timedelta(days=1)).path
    held = making._held

    def one_less(*arguments):
        found = held(*arguments)
        return msgspec.structs.replace(found, entries=found.entries - 1)

    monkeypatch.setattr(making, "_held", one_less)
    with pytest.raises(StorageError, match="BACKUP-013"):
        make_backup(folder, KEY, now=NOW, keep=1)
    assert backups(folder) == [good]


def test_a_disk_that_writes_something_else_is_found_out(folder, on_record, monkeypatch) -> None:
    write = making._write

    def damaged(unfinished: Path, *arguments: object):
        manifest = write(unfinished, *arguments)
        content = bytearray(unfinished.read_bytes())
        content[len(content) // 2] ^= 1
        unfinished.write_bytes(content)
        return manifest

    monkeypatch.setattr(making, "_write", damaged)
    with pytest.raises(StorageError, match="BACKUP-013"):
        make_backup(folder, KEY, now=NOW)
    assert backups(folder) == []
    assert shelf.last_good() is None


def test_the_newest_are_kept_and_those_of_another_key_are_left_alone(folder, on_record) -> None:
    other = make_backup(folder, Key(secret=b"o" * 32), now=NOW - timedelta(days=30)).path
    by_hand = folder / "suffice-notes.backup"
    by_hand.touch()
    days = [make_backup(folder, KEY, now=NOW + timedelta(days=n)).path for n in range(3)]
    made = make_backup(folder, KEY, now=NOW + timedelta(days=3), keep=2)
    assert made.removed == 2
    assert set(backups(folder)) == {other, by_hand, days[2], made.path}
    # The clock was set back: what was just made is kept all the same.
    early = make_backup(folder, KEY, now=NOW - timedelta(days=9), keep=1)
    assert set(backups(folder)) == {other, by_hand, early.path}
    last = shelf.last_good()
    assert last is not None
    assert (last.path, last.made_at) == (str(early.path), NOW - timedelta(days=9))


def test_what_a_killed_backup_left_goes_with_the_next(folder, on_record, home) -> None:
    (home / f"{shelf.WORK}left").mkdir()
    left = folder / f".{shelf.name_of(KEY, NOW)}.unfinished"
    left.touch()
    make_backup(folder, KEY, now=NOW + timedelta(days=1))
    assert not left.exists()
    assert list(home.glob(f"{shelf.WORK}*")) == []


def test_a_key_beside_the_backups_is_refused(folder, on_record) -> None:
    for beside in (folder / "key", folder / "deeper" / "key"):
        with pytest.raises(InputError, match="BACKUP-003"):
            make_backup(folder, KEY, now=NOW, key_file=beside)
    with pytest.raises(InputError, match="BACKUP-004"):
        make_backup(folder / "not mounted", KEY, now=NOW)
    assert backups(folder) == []


def test_an_empty_record_is_not_backed_up(folder) -> None:
    """The wrong SUFFICE_HOME would push the good ones off the shelf."""
    with pytest.raises(InputError, match="BACKUP-014"):
        make_backup(folder, KEY, now=NOW)


def test_a_record_that_holds_anything_is_never_replaced(folder, on_record) -> None:
    path = make_backup(folder, KEY, now=NOW).path
    assert refusal(path) == "BACKUP-012"
    empty()
    repository.open_family(an_id("new"), [INFANT], opened_at=BORN_AT, opened_by="consultant")
    assert refusal(path) == "BACKUP-012"


@pytest.fixture
def path(folder, on_record) -> Path:
    """A good backup, and an empty record."""
    made = make_backup(folder, KEY, now=NOW).path
    empty()
    return made


def test_each_fault_of_a_backup_has_its_own_words_and_restores_nothing(path, folder) -> None:
    content = path.read_bytes()
    assert refusal(path, Key(secret=b"another key of thirty-two bytes!")) == "BACKUP-006"
    assert refusal(folder / "none.backup") == "BACKUP-015"
    for wrong, code in (
        (content[:-1], "BACKUP-007"),
        (content[: len(content) // 2] + b"!" + content[len(content) // 2 + 1 :], "BACKUP-008"),
        (content + b"!", "BACKUP-008"),
        (b"something else altogether", "BACKUP-009"),
    ):
        path.write_bytes(wrong)
        assert refusal(path) == code
    path.write_bytes(content)
    assert restore(path, KEY).stored.families == 1


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"migrations": (("record", "0001_initial"), ("record", "9999_to_come"))}, "BACKUP-010"),
        ({"engine": "another"}, "BACKUP-011"),
    ],
)
def test_a_newer_version_and_another_engine(folder, on_record, monkeypatch, change, code) -> None:
    manifest = making._manifest
    monkeypatch.setattr(
        making, "_manifest", lambda *said: msgspec.structs.replace(manifest(*said), **change)
    )
    path = make_backup(folder, KEY, now=NOW).path
    empty()
    assert refusal(path) == code


def test_a_restore_that_fails_half_way_leaves_an_empty_record(path, monkeypatch) -> None:
    def full(*_arguments: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    place = "put_sqlite" if whole.engine() == "sqlite" else "put_sequences"
    with monkeypatch.context() as patch:
        patch.setattr(whole, place, full)
        assert refusal(path) == "BACKUP-016"
    assert not whole.holds_anything()
    assert restore(path, KEY).stored.entries == 4


def test_photographs_come_back_with_the_record(folder, on_record, home) -> None:
    assert {photographs.folder().name, photographs.key_file().name} == set(making.BESIDE)
    (home / "photographs" / "ab").mkdir(parents=True)
    (home / "photographs" / "ab" / "one").write_bytes(b"sealed" * 99)
    (home / "photograph-key").write_text("invented")
    path = make_backup(folder, KEY, now=NOW).path
    empty()
    for there in (home / "photographs" / "ab" / "one", home / "photograph-key"):
        there.unlink()
    restore(path, KEY)
    assert (home / "photographs" / "ab" / "one").read_bytes() == b"sealed" * 99
    assert (home / "photograph-key").read_text() == "invented"
    assert (home / "photograph-key").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("name", ["photographs/../../out", "secret-key", ""])
def test_nothing_is_written_outside_its_place(tmp_path, home, name) -> None:
    with pytest.raises(InputError, match="BACKUP-008"):
        restoring._put_beside(name, iter([b"x"]), tmp_path)
    assert not (tmp_path / "out").exists()
