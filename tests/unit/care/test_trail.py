"""What is noted is in the database once, whatever stops in between, and nobody waits for it."""

from __future__ import annotations

import multiprocessing
import os
from datetime import timedelta
from pathlib import Path

import pytest

from people import BORN_AT, an_id
from suffice.care import trail
from suffice.care.trail import Act, Asked
from suffice.errors import StorageError
from suffice.record import models
from suffice.record.verify import verify

FAMILY = an_id("family")


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.HOME = tmp_path
    return tmp_path / "trail"


def note(act=Act.READ, who="consultant", **more):
    trail.note(act, who=who, page="family", now=BORN_AT, family_id=FAMILY, **more)


def stored(**asked):
    return [one.event for one in trail.events(Asked(**asked), most=1000)]


@pytest.mark.django_db
def test_what_was_noted_is_stored_chained_and_told_newest_first():
    note()
    note(Act.PRINT, who="colleague", about="letter", status=200, address="10.0.0.7")
    assert trail.flush() == 2
    first, second = reversed(stored())
    assert (first.who, first.act, first.family_id, first.at) == (
        "consultant",
        "read",
        FAMILY,
        BORN_AT,
    )
    assert (second.about, second.status, second.address) == ("letter", 200, "10.0.0.7")
    checked = verify()
    assert (checked.found, checked.link_count, checked.row_count) == ((), 1, 2)


@pytest.mark.django_db
def test_it_can_be_asked_by_person_act_family_and_time():
    note()
    note(Act.EXPORT)
    trail.note(Act.LIST, who="colleague", page="caseload", now=BORN_AT + timedelta(days=2))
    later = BORN_AT + timedelta(days=1)
    assert [one.act for one in stored(who="colleague")] == ["list"]
    assert [one.act for one in stored(act="export")] == ["export"]
    assert [one.act for one in stored(family_id=FAMILY)] == ["export", "read"]
    assert [one.act for one in stored(since=later)] == ["list"]
    assert [one.act for one in stored(until=later)] == ["export", "read"]
    assert [one.act for one in trail.every(Asked())] == ["read", "export", "list"]


@pytest.mark.django_db
def test_pages_of_events_follow_one_another():
    for number in range(5):
        note(about=str(number))
    first = trail.events(Asked(), most=2)
    rest = trail.events(Asked(), most=9, before=first[-1].number)
    assert [one.event.about for one in [*first, *rest]] == ["4", "3", "2", "1", "0"]


@pytest.mark.django_db
def test_an_event_that_is_sent_again_is_stored_once(folder: Path):
    note()
    again = (folder / "spool").read_bytes()
    assert trail.flush() == 1
    (folder / "spool").write_bytes(again * 2)
    assert trail.flush() == 0
    assert models.TrailEvent.objects.count() == 1


@pytest.mark.django_db
def test_what_the_store_cannot_take_stays_until_it_can(folder: Path, monkeypatch):
    def away(_events):
        raise StorageError

    note()
    with monkeypatch.context() as patch:
        patch.setattr(trail.trail, "put", away)
        with pytest.raises(StorageError):
            trail.flush()
    note(Act.EXPORT)
    assert [one.act for one in reversed(stored())] == ["read", "export"]
    assert sorted(one.name for one in folder.iterdir()) == ["flush.lock"]


@pytest.mark.django_db
def test_a_line_that_was_cut_off_costs_no_other(folder: Path, caplog):
    note()
    spool = folder / "spool"
    spool.write_bytes(spool.read_bytes() + b'{"id": "cut\n')
    note(Act.EXPORT)
    assert trail.flush() == 2


@pytest.mark.django_db
def test_nobody_is_kept_from_a_page_because_nothing_can_be_noted(folder: Path, settings):
    settings.HOME = Path("/proc/no-such-folder")
    note()


def test_what_is_noted_can_be_read_by_its_owner_alone(folder: Path):
    note()
    assert folder.stat().st_mode & 0o077 == 0
    assert (folder / "spool").stat().st_mode & 0o077 == 0


def test_only_what_carries_something_off_or_changes_it_waits_for_the_disk(monkeypatch):
    forced = []
    monkeypatch.setattr(os, "fsync", forced.append)
    for act in (Act.READ, Act.LIST, Act.SEARCH, Act.ENTER):
        note(act)
    assert forced == []
    note(Act.EXPORT)
    note(Act.SIGN_IN_FAILED)
    assert len(forced) == 2


NOTERS, NOTES = 3, 150


def _note_many(home: Path, number: int) -> None:
    from django.conf import settings  # noqa: PLC0415

    settings.HOME = home
    for count in range(NOTES):
        note(about=f"{number} {count}")


@pytest.mark.django_db
def test_nothing_is_lost_between_processes_that_note_and_one_that_flushes(tmp_path: Path):
    fork = multiprocessing.get_context("fork")
    noters = [fork.Process(target=_note_many, args=(tmp_path, n)) for n in range(NOTERS)]
    for one in noters:
        one.start()
    flushed = 0
    while any(one.is_alive() for one in noters):
        flushed += trail.flush()
    for one in noters:
        one.join()
        assert one.exitcode == 0
    flushed += trail.flush()
    assert flushed == NOTERS * NOTES
    told = {one.about for one in stored()}
    assert told == {f"{n} {count}" for n in range(NOTERS) for count in range(NOTES)}
