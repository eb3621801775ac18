"""Whichever write fails, nothing of its operation is on the record, and a retry completes it."""

from __future__ import annotations

import re
import sqlite3
import threading
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.db import OperationalError, connection, connections

from people import BORN_AT, an_entry, an_id
from suffice.care.family.transfer import import_csv
from suffice.clinical.entry import Infant, Note, Weight
from suffice.errors import StorageError
from suffice.exchange.table.options import CsvOptions
from suffice.record import models, policies, repository

FAMILY = an_id("family")
INFANT = Infant(id=an_id("infant"), position=1)
MANY = [
    an_entry(f"weight {n}", Weight(weight_g=3000.0 + n), infant=INFANT, at_h=n) for n in range(1200)
]


def open_with_entries():
    """One operation of several writes: a family, its infant, and entries in three portions."""
    with repository.one_transaction():
        repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="consultant")
        repository.append(FAMILY, MANY)


def put_policy():
    policies.append(an_id("policy"), {"zone": "UTC"}, entered_at=BORN_AT, entered_by="x")


def counts():
    kinds = (models.Family, models.Infant, models.Entry, models.PolicyVersion)
    return [kind.objects.count() for kind in kinds]


def refusal(operation):
    """The codes with which the store refuses an operation; none when it succeeds."""
    try:
        operation()
    except StorageError as error:
        return [problem.code for problem in error.problems]
    return []


class FailingWrite:
    """Lets the first writes pass and fails the one after them, once."""

    def __init__(self, passing, into="record_"):
        self.passing = passing
        self.into = re.compile(rf'INSERT INTO "({into})', re.IGNORECASE)
        self.seen = 0

    def __call__(self, execute, sql, parameters, many, context):
        if self.into.match(sql):
            self.seen += 1
            if self.seen == self.passing + 1:
                raise OperationalError("the disk is gone")
        return execute(sql, parameters, many, context)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("operation", "done", "writes"),
    [(open_with_entries, [1, 1, 1200, 0], 5), (put_policy, [0, 0, 0, 1], 1)],
)
def test_failing_the_first_then_the_second_and_so_on_never_leaves_a_half(operation, done, writes):
    failures = 0
    while True:
        failing = FailingWrite(passing=failures)
        with connection.execute_wrapper(failing):
            codes = refusal(operation)
        if not codes:
            break
        assert codes == ["RECORD-009"]
        assert counts() == [0, 0, 0, 0]
        failures += 1
    assert failures >= writes
    assert counts() == done


@pytest.mark.django_db(transaction=True)
def test_a_failing_commit_leaves_nothing(monkeypatch):
    def commit():
        raise OperationalError("the disk is gone")

    with monkeypatch.context() as patch:
        patch.setattr(connection, "_commit", commit)
        with pytest.raises(StorageError, match="RECORD-009"):
            open_with_entries()
    assert counts() == [0, 0, 0, 0]
    open_with_entries()
    assert counts() == [1, 1, 1200, 0]


@contextmanager
def no_more_pages():
    """SQLite behaves as on a full disk: the file may not grow."""
    with connection.cursor() as cursor:
        cursor.execute("VACUUM")  # no page is left free by what was there before
        cursor.execute("PRAGMA page_count")
        (used,) = cursor.fetchone()
        cursor.execute(f"PRAGMA max_page_count = {used}")
        try:
            yield
        finally:
            cursor.execute("PRAGMA max_page_count = 1073741823")


@pytest.mark.django_db(transaction=True)
def test_a_full_disk_is_told_and_leaves_nothing_on_sqlite():
    if connection.vendor != "sqlite":
        pytest.skip("the size of a PostgreSQL cannot be limited by a setting")
    with no_more_pages(), pytest.raises(StorageError, match="full") as caught:
        open_with_entries()
    assert isinstance(caught.value.__cause__.__cause__, sqlite3.OperationalError)
    assert counts() == [0, 0, 0, 0]
    open_with_entries()
    assert counts() == [1, 1, 1200, 0]


THREADS, WRITES = 4, 50


def in_threads(work):
    """Run `work(n)` in parallel, each with its own connection; gives what was raised."""
    raised = []
    start = threading.Barrier(THREADS)

    def run(number):
        try:
            start.wait()
            work(number)
        except Exception as error:  # noqa: BLE001 -- the test asserts that there is none
            raised.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(number,)) for number in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return raised


@pytest.mark.django_db(transaction=True)
def test_concurrent_writers_wait_for_one_another_and_lose_nothing():
    repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="consultant")
    seen = {}

    def write(thread):
        for number in range(WRITES):
            note = an_entry(f"{thread} {number}", Note(text="x"), infant=None)
            done = repository.append(FAMILY, [note])
            # A caseload row computed now would count as current with this number, so it must never
            # be that an entry of smaller number is committed later.
            seen[thread, number] = (done.latest_seq, len(repository.read(FAMILY).entries))

    assert in_threads(write) == []
    entries = repository.read(FAMILY).entries
    assert len(entries) == len({entry.id for entry in entries}) == THREADS * WRITES
    newest = sorted(latest for latest, _ in seen.values())
    assert len(set(newest)) == THREADS * WRITES
    assert newest[-1] == repository.latest_seq(FAMILY)
    position = {latest: n for n, latest in enumerate(newest, start=1)}
    assert all(there >= position[latest] for latest, there in seen.values())


@pytest.mark.django_db(transaction=True)
def test_the_same_entries_sent_by_all_at_once_are_stored_once():
    repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="consultant")
    notes = [an_entry(f"{number}", Note(text="x"), infant=None) for number in range(WRITES)]
    new = []

    def write(_thread):
        for note in notes:
            new.extend(repository.append(FAMILY, [note]).new)

    assert in_threads(write) == []
    assert sorted(map(str, new)) == sorted(str(note.id) for note in notes)
    assert models.Entry.objects.count() == WRITES


@pytest.mark.django_db(transaction=True)
def test_two_corrections_of_one_entry_at_once_leave_one():
    repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="consultant")
    repository.append(FAMILY, [MANY[0]])

    def correct(thread):
        fact = Weight(weight_g=3100.0 + thread)
        repository.append(
            FAMILY, [an_entry(f"correction {thread}", fact, infant=INFANT, replaces=MANY[0])]
        )

    raised = in_threads(correct)
    assert {problem.code for error in raised for problem in error.problems} == {"RECORD-004"}
    assert len(raised) == THREADS - 1
    assert models.Entry.objects.filter(replaces=MANY[0].id).count() == 1


@pytest.mark.django_db(transaction=True)
def test_the_same_family_opened_by_all_at_once_is_opened_once():
    opened = []

    def open_it(_thread):
        opened.append(
            repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="consultant")
        )

    raised = in_threads(open_it)
    assert raised == []
    assert sorted(opened) == [False] * (THREADS - 1) + [True]
    assert counts()[:2] == [1, 1]


@pytest.mark.django_db(transaction=True)
def test_the_same_policy_sent_by_all_at_once_is_appended_once():
    assert in_threads(lambda _thread: put_policy()) == []
    assert counts() == [0, 0, 0, 1]


TABLE = (
    b"id,born,sex,date and time,weight_g\n"
    b"1,2026-03-01 04:30,male,2026-03-03 10:00,3280\n"
    b"2,2026-03-01 05:30,female,2026-03-03 10:00,3380\n"
)


@pytest.mark.django_db(transaction=True)
def test_an_import_that_fails_at_any_of_its_writes_leaves_nothing_of_the_file():
    now = BORN_AT + timedelta(days=10)
    options = CsvOptions(zone="UTC", entered_by="consultant", entered_at=now, source="ward")
    failures = 0
    while True:
        failing = FailingWrite(
            passing=failures, into="record_family|record_infant|record_entry|record_arrival"
        )
        with connection.execute_wrapper(failing):
            codes = refusal(lambda: import_csv(TABLE, options, now=now))
        if not codes:
            break
        assert codes == ["RECORD-009"]
        assert counts() == [0, 0, 0, 0]
        failures += 1
    assert failures == 4
    assert counts() == [2, 2, 6, 0]
    assert import_csv(TABLE, options, now=now).entry_count == 0
    assert counts() == [2, 2, 6, 0]
