"""Each thing that can be wrong with a record is found and said, and nothing of a family with it."""

from __future__ import annotations

import os
import sqlite3
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from uuid import uuid4

import pytest
from django.db import OperationalError, connection

from lifted import triggers_lifted
from members import a_member
from people import BORN_AT, an_entry, an_id
from suffice.care import doctor, jobs, trail, uploads, verifying
from suffice.care.backup import reaching
from suffice.care.backup.key import new_key
from suffice.care.backup.shelf import LastGood, note_good
from suffice.care.clinic.clinic import change_policy
from suffice.care.doctor import Health
from suffice.clinical.entry import Identity, Infant
from suffice.record import erasure, models, policies, repository, state, wiping
from suffice.record import jobs as shelf
from suffice.record.values import Stored

pytestmark = pytest.mark.django_db

NAME = "Oriane Testcase"


def this_moment() -> datetime:
    """Asked each time: the record of a test is made after the first test began."""
    return datetime.now(UTC)


@pytest.fixture(autouse=True)
def record(settings, tmp_path: Path, monkeypatch) -> Path:
    """A record in which all is well."""
    settings.HOME = tmp_path
    monkeypatch.setattr(doctor.shutil, "disk_usage", lambda _: SimpleNamespace(free=10**12))
    monkeypatch.setattr(state, "keeps_checksums", lambda: True)
    family = an_id("family")
    infant = Infant(id=an_id("infant"), position=1)
    repository.open_family(family, [infant], opened_at=BORN_AT, opened_by="consultant")
    repository.append(family, [an_entry("name", Identity(name=NAME), infant=None)])
    a_member("consultant", "lead", passphrase="seven calm herons", is_administrator=True)
    verifying.check_whole()
    backed_up(tmp_path, timedelta(hours=1))
    return tmp_path


def backed_up(home: Path, ago: timedelta) -> Path:
    path = home / "kept.backup"
    path.touch()
    note_good(
        LastGood(path=str(path), made_at=this_moment() - ago, stored=Stored(families=1, entries=1))
    )
    return path


def not_well(now: datetime | None = None) -> dict[str, tuple[Health, str]]:
    """What is not well, by its name; each says what to do, and none names anybody of a family."""
    found = list(doctor.signs(now or this_moment()))
    assert NAME not in str(found)
    assert str(an_id("family")) not in str(found)
    assert all(bool(sign.fix) is (sign.health is not Health.WELL) for sign in found)
    return {
        str(one.name): (one.health, str(one.state))
        for one in found
        if one.health is not Health.WELL
    }


def test_a_good_record_is_well_in_every_way() -> None:
    assert not_well() == {}
    names = [str(sign.name) for sign in doctor.signs(this_moment())]
    assert len(names) == len(set(names)) == 15


def test_missing_triggers_are_damage() -> None:
    with triggers_lifted():
        health, said = not_well()["Triggers"]
    assert health is Health.DAMAGED
    assert "record_entry" in said


def test_what_a_check_found_is_damage_until_it_is_gone() -> None:
    with triggers_lifted():
        models.Entry.objects.filter(id=an_id("name")).update(entered_by="somebody")
    verifying.check_whole()
    assert not_well()["Last whole check"][0] is Health.DAMAGED


def test_an_old_check_and_none_at_all_are_said() -> None:
    assert set(not_well(this_moment() + timedelta(days=3))) >= {"Last whole check", "Last backup"}
    models.Verification.objects.all().delete()
    assert not_well() == {"Last whole check": (Health.LOOK, "There was none yet.")}


def test_pages_that_keep_no_checksums_and_damaged_ones(monkeypatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(state, "keeps_checksums", lambda: False)
        assert not_well()["Pages of the database"][0] is Health.LOOK
    wrong = [verifying.Found(wrong=verifying.Wrong.PAGE, key="row 3 missing from index")]
    monkeypatch.setattr(doctor.verify, "wrong_pages", lambda **_: wrong)
    assert not_well()["Pages of the database"] == (
        Health.DAMAGED,
        "Damaged: row 3 missing from index.",
    )


def test_a_backup_that_is_old_gone_or_never_was(record: Path) -> None:
    path = backed_up(record, timedelta(hours=40))
    assert "40 h ago" in not_well()["Last backup"][1]
    path.unlink()
    assert "not there any more" in not_well()["Last backup"][1]
    (record / "last-backup.json").unlink()
    assert not_well()["Last backup"][1] == "No backup has been made and checked."


def test_a_folder_of_backups_that_an_erasure_did_not_reach(record: Path) -> None:
    assert reaching.forget_folder(record), "that of the last backup"
    away = record / "not mounted"
    key_file = record / "key"
    reaching.note_folder(away, new_key(key_file), key_file, ())
    assert "Erased families" not in not_well()
    family = an_id("family")
    erasure.ask(erasure.Request(family_id=family, at=this_moment(), by="one", why="asked"))
    erasure.erase(family, by="two", now=this_moment())
    assert str(away) in not_well()["Erased families"][1]
    reaching.forget_folder(away)
    assert "still in free places" in not_well()["Erased families"][1]
    (record / wiping.FILE).unlink()
    assert "Erased families" not in not_well()


def test_a_clock_that_is_behind() -> None:
    assert "Something was stored at" in not_well(this_moment() - timedelta(days=1))["Clock"][1]


def test_a_full_disk(monkeypatch) -> None:
    monkeypatch.setattr(doctor.shutil, "disk_usage", lambda _: SimpleNamespace(free=10**8))
    assert not_well()["Room on the disk"][1] == "0.1 GB free."


def test_jobs_that_a_stopped_program_left() -> None:
    job = shelf.add(an_id("job"), "import", started_by="x", now=this_moment() - timedelta(hours=1))
    assert shelf.take(job.number, slot="import", now=this_moment() - timedelta(hours=1))
    assert not_well()["Jobs"][1] == "1 is left of a program that was stopped."
    shelf.interrupt(
        silent_since=this_moment() - timedelta(seconds=jobs.SILENT_S), now=this_moment()
    )
    assert "Jobs" in not_well(), "it holds its slot still"
    shelf.free(job.number)
    assert not_well() == {}


def test_uploads_past_their_day(record: Path) -> None:
    uploads.keep(b"fresh", by=1)
    assert uploads.counts() == (1, 0)
    assert not_well() == {}
    (file,) = (record / "imports").iterdir()
    old = time.time() - uploads.KEPT_S - 60
    os.utime(file, (old, old))
    assert not_well()["Uploads"][1] == "1 is past its day."


def test_events_that_wait_to_be_stored(record: Path) -> None:
    trail.note(trail.Act.READ, who="consultant", page="family", now=this_moment())
    assert not_well() == {}, "it is on its way"
    spool = record / "trail" / "spool"
    old = time.time() - 2 * trail.ON_ITS_WAY_S
    os.utime(spool, (old, old))
    assert "Events wait in a file since" in not_well()["Trail"][1]
    trail.flush()
    assert not_well() == {}


def test_people_without_the_second_factor_that_the_policy_asks_for() -> None:
    change_policy(an_id("policy"), {"second_factor": True}, now=this_moment(), actor="consultant")
    assert not_well(this_moment() + timedelta(minutes=1))["People"][1].endswith(
        "and 1 signs in without: consultant."
    )


def test_nobody_who_looks_after_accounts() -> None:
    from django.contrib.auth.models import User  # noqa: PLC0415

    User.objects.update(is_staff=False)
    assert "Nobody who can sign in" in not_well()["People"][1]


def test_tables_of_another_version(monkeypatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(state, "pending_migrations", lambda: ("record 0011_more",))
        found = not_well()
        assert found["Tables"][0] is Health.LOOK
        assert "1 step behind this version: record 0011_more" in found["Tables"][1]
    monkeypatch.setattr(doctor.whole, "unknown_migrations", lambda _: [("record", "0099_later")])
    health, said = not_well()["Tables"]
    assert health is Health.AWAY
    assert "0099_later" in said


@pytest.mark.parametrize(
    ("table", "name"), [("record_job", "Jobs"), ("record_person", "People"), ("record_erasure", "")]
)
@pytest.mark.django_db(transaction=True)
def test_where_a_table_is_gone_that_is_said_and_all_else_is_looked_at(
    table: str, name: str
) -> None:
    before = len([*doctor.signs(this_moment())])
    with connection.cursor() as cursor:
        cursor.execute(f"ALTER TABLE {table} RENAME TO gone")
        try:
            found = [*doctor.signs(this_moment())]
        finally:
            cursor.execute(f"ALTER TABLE gone RENAME TO {table}")
    assert len(found) == before
    damaged = [one for one in found if one.health is Health.DAMAGED]
    assert [str(one.name) for one in damaged if "Cannot be looked at" in str(one.state)] == (
        [name] if name else []
    )


def test_where_what_is_stored_is_garbled_that_is_said() -> None:
    """On PostgreSQL no column takes a time that is none."""
    if connection.vendor != "sqlite":
        pytest.skip("the database refuses it")
    with triggers_lifted(), connection.cursor() as cursor:
        cursor.execute("UPDATE record_verification SET began_at = '2026-13-45 10:00:00'")
        (sign,) = [
            one for one in doctor.signs(this_moment()) if str(one.name) == "Last whole check"
        ]
    assert sign.health is Health.DAMAGED
    assert "restore" in str(sign.fix)
    assert "2026-13" not in str(sign.state)


@pytest.mark.parametrize("kind", [ValueError, TypeError, KeyError, AttributeError])
def test_a_defect_of_the_program_is_not_called_damage(
    monkeypatch, caplog, kind: type[Exception]
) -> None:
    """Whoever restored an old copy for it would lose what was entered since."""

    def wrong(_now: datetime) -> None:
        raise kind("yesterday's value")

    before = len([*doctor.signs(this_moment())])
    monkeypatch.setattr(doctor.verifying, "wrong_clock", wrong)
    found = [*doctor.signs(this_moment())]
    (sign,) = [one for one in found if one.health is not Health.WELL]
    assert str(sign.name) == "Clock"
    assert sign.health is Health.LOOK
    assert kind.__name__ in str(sign.state)
    assert "yesterday" not in str(sign.state)
    assert "restore" not in str(sign.fix)
    assert len(found) == before
    assert [one.exc_info is not None for one in caplog.records if one.name == "suffice.doctor"] == [
        True
    ]


def test_values_of_the_clinic_that_went_out_of_force_are_named() -> None:
    """A later version asked for limits that they miss, or has no such value any more."""
    change_policy(an_id("policy"), {}, now=this_moment(), actor="consultant")
    plain = dict(policies.newest().policy)
    plain["constants"] = {"schedule.step_minutes": 5000.0, "gain.of_the_past_g_per_day": 3.0}
    policies.append(uuid4(), plain, entered_at=this_moment(), entered_by="consultant")
    health, said = not_well()["Your own values"]
    assert health is Health.LOOK
    assert "2 are not in force" in said
    assert "gain.of_the_past_g_per_day" in said


def test_a_database_that_goes_away_meanwhile_is_not_called_damaged(monkeypatch) -> None:
    def gone() -> None:
        raise OperationalError from sqlite3.OperationalError

    monkeypatch.setattr(doctor, "last_good", gone)
    monkeypatch.setattr(doctor.reasons, "why", lambda _error: doctor.reasons.UNREACHABLE)
    with pytest.raises(OperationalError):
        [*doctor.signs(this_moment())]
