"""A long import is written in short transactions, is on the record in one moment, or never was."""

from __future__ import annotations

import threading
from contextlib import contextmanager
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from django.db import connection, connections

from lifted import triggers_lifted
from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Infant, Note, Record, Weight
from suffice.errors import InputError, StorageError
from suffice.record import arrival, caseload, jobs, models, repository
from suffice.record.newest import look
from suffice.record.verify import Checked, Found, Wrong, verify
from verified import found_by_verify

NUMBER = 7
SLICE = 20
FAMILIES = 9
ENTRIES = 8


@pytest.fixture(autouse=True)
def _small_slices(monkeypatch):
    monkeypatch.setattr(arrival, "SLICE_ROWS", SLICE)
    monkeypatch.setattr(arrival, "REST_LEAST_S", 0.0)
    monkeypatch.setattr(arrival, "REST", 0.0)


def infant_of(key):
    return Infant(id=an_id(f"infant {key}"), position=1)


def a_record(key, entries=ENTRIES, first=0):
    infant = infant_of(key)
    return Record(
        family_id=an_id(f"family {key}"),
        infants=(infant,),
        entries=tuple(
            an_entry(f"{key} {n}", Weight(weight_g=3000.0 + n), infant=infant, at_h=n)
            for n in range(first, first + entries)
        ),
    )


RECORDS = [a_record(number) for number in range(FAMILIES)]


class Turns:
    """Transactions that count what each of them writes, and do something between two of them."""

    def __init__(self, between=lambda _number: None):
        self.between = between
        self.rows = []

    @contextmanager
    def __call__(self):
        self.between(len(self.rows))
        before = written()
        with repository.one_transaction():
            yield
        self.rows.append(written() - before)


def written():
    kinds = (models.Family, models.Infant, models.Entry)
    return sum(kind.everything.count() for kind in kinds)


def bring(records=RECORDS, *, turns=None, number=NUMBER, progress=lambda _done, _total: None):
    return arrival.bring(
        number,
        records,
        opened_at=BORN_AT,
        opened_by="consultant",
        turn=turns or Turns(),
        progress=progress,
    )


def on_record():
    return {key: len(record.entries) for key, record in all_records().items()}


def all_records():
    return repository.read_many(repository.family_ids())


WHOLE = {record.family_id: ENTRIES for record in RECORDS}


@pytest.mark.django_db
def test_no_transaction_holds_more_rows_than_a_slice_and_the_last_is_small():
    turns = Turns()
    done = bring(turns=turns)
    assert (done.opened_count, done.entry_count) == (FAMILIES, FAMILIES * ENTRIES)
    assert len(turns.rows) > FAMILIES * ENTRIES / SLICE
    assert max(turns.rows) <= SLICE
    assert turns.rows[-1] == 0, "of families that are new nothing is left for the last one"
    assert on_record() == WHOLE


@pytest.mark.django_db
def test_few_rows_are_one_transaction():
    turns = Turns()
    bring(RECORDS[:2], turns=turns)
    assert turns.rows == [2 * (2 + ENTRIES)]


@pytest.mark.django_db
def test_one_family_with_more_entries_than_a_slice_is_divided_too():
    turns = Turns()
    bring([a_record("long", entries=5 * SLICE)], turns=turns)
    assert max(turns.rows) <= SLICE
    assert on_record() == {an_id("family long"): 5 * SLICE}
    (record,) = all_records().values()
    assert [entry.true_at for entry in record.entries] == sorted(
        entry.true_at for entry in record.entries
    )


@pytest.mark.django_db
def test_nobody_sees_anything_before_all_is_there_by_no_way_of_reading():
    key = RECORDS[0].family_id
    seen = []

    def look(_number):
        seen.append(
            (
                repository.family_ids(),
                repository.read_many([key]),
                repository.read_infants([key]),
                repository.latest_seq(key),
                repository.latest_seqs([key]),
                caseload.families(with_discharged=True),
                models.Infant.objects.count(),
                models.Entry.objects.count(),
                caseload.stale(at=BORN_AT, content_version="", engine_version="", policy_version=0),
            )
        )

    turns = Turns(look)
    bring(turns=turns)
    assert len(seen) == len(turns.rows)
    assert seen == [((), {}, {}, 0, {}, [], 0, 0, ())] * len(seen)
    assert on_record() == WHOLE
    assert len(caseload.families()) == FAMILIES


@pytest.mark.django_db
def test_progress_goes_up_to_all_entries():
    told = []
    bring(progress=lambda done, total: told.append((done, total)))
    assert told == sorted(told)
    assert told[-1] == (FAMILIES * ENTRIES, FAMILIES * ENTRIES)


@pytest.mark.django_db
@pytest.mark.parametrize("stop_at", range(6))
def test_an_import_that_stops_anywhere_leaves_nothing_that_can_be_seen_and_goes_again(stop_at):
    class StopError(Exception):
        pass

    def stops(number):
        if number == stop_at:
            raise StopError

    with pytest.raises(StopError):
        bring(turns=Turns(stops))
    assert (written() > 0) is (stop_at > 0)
    assert on_record() == {}
    assert not arrival.has_arrived(NUMBER)
    arrival.drop(NUMBER)
    assert written() == 0
    bring(number=NUMBER + 1)
    assert on_record() == WHOLE


@pytest.mark.django_db
def test_what_an_import_wrote_is_bound_with_it_and_goes_with_it():
    class StopError(Exception):
        pass

    def stops(number):
        if number == 3:
            raise StopError

    with pytest.raises(StopError):
        bring(turns=Turns(stops))
    assert models.Link.objects.exists()
    assert verify() == Checked(link_count=0, row_count=0, found=())
    arrival.drop(NUMBER)
    assert not models.Link.objects.exists()
    assert not models.ChainHead.objects.exists()
    bring(number=NUMBER + 1)
    checked = verify()
    assert checked.found == ()
    assert checked.row_count == 1 + FAMILIES * (2 + ENTRIES)


@pytest.mark.django_db
def test_an_entry_of_an_import_that_was_changed_is_named_with_its_family():
    bring()
    entry = RECORDS[3].entries[2].id
    with triggers_lifted():
        models.Entry.everything.filter(id=entry).update(entered_by="somebody else")
    family = RECORDS[3].family_id.hex
    changed = Found(wrong=Wrong.CHANGED, form="entry", key=entry.hex, family=family)
    assert found_by_verify() == (changed,)
    assert look(5.0).found == (changed,)


@pytest.mark.django_db
def test_an_import_that_was_taken_off_the_record_is_missed():
    bring()
    with triggers_lifted():
        models.Arrival.objects.all().delete()
    assert found_by_verify() == (Found(wrong=Wrong.REMOVED, form="arrival", key=str(NUMBER)),)


@pytest.mark.django_db
def test_dropping_is_harmless_after_arrival_and_goes_on_where_it_was_stopped():
    bring()
    arrival.drop(NUMBER)
    assert on_record() == WHOLE
    assert arrival.entry_count(NUMBER) == FAMILIES * ENTRIES
    assert arrival.entry_count(NUMBER + 1) == 0


@pytest.mark.django_db
def test_a_family_on_the_record_shows_all_new_entries_at_once_and_its_caseload_row_is_stale():
    """What was seen of it before and after has another newest number, whatever came between."""
    bring()
    longer = [a_record(number, entries=4, first=ENTRIES) for number in range(FAMILIES)]
    key = longer[0].family_id
    newest = []

    def save(number):
        note = an_entry(f"note {number}", Note(text="x"), infant=infant_of(0))
        newest.append(repository.append(key, [note]).latest_seq)
        assert len(repository.read(key).entries) == ENTRIES + number + 1

    turns = Turns(save)
    bring(longer, number=NUMBER + 1, turns=turns)
    assert len(turns.rows) > 2
    assert turns.rows[-1] == FAMILIES, "one entry of each family that was there"
    assert repository.latest_seq(key) > newest[-1]
    assert len(repository.read(key).entries) == ENTRIES + 4 + len(newest)
    for record in longer:
        kept_back = max(record.entries, key=lambda entry: entry.true_at)
        assert repository.read(record.family_id).entries[-1].id == kept_back.id


@pytest.mark.django_db
def test_entries_that_somebody_else_brought_meanwhile_are_refused_and_nothing_arrives():
    bring()
    longer = [a_record(number, entries=4, first=ENTRIES) for number in range(FAMILIES)]

    def brings_the_same(number):
        if number == 1:
            last = longer[-1]
            repository.append(last.family_id, last.entries)

    with pytest.raises(StorageError, match="RECORD-012"):
        bring(longer, number=NUMBER + 1, turns=Turns(brings_the_same))
    assert not arrival.has_arrived(NUMBER + 1)
    arrival.drop(NUMBER + 1)
    assert on_record() == {**WHOLE, longer[-1].family_id: ENTRIES + 4}


@pytest.mark.django_db
def test_a_family_that_is_another_one_is_refused_before_anything_is_written():
    bring()
    other = Record(
        family_id=RECORDS[0].family_id,
        infants=(Infant(id=uuid4(), position=1),),
        entries=(),
    )
    before = written()
    with pytest.raises(InputError, match="RECORD-008"):
        bring([other, *RECORDS[1:]], number=NUMBER + 1)
    assert written() == before


@pytest.mark.django_db(transaction=True)
def test_a_save_between_two_slices_goes_through():
    """The import holds no lock between its transactions: another connection writes and reads."""
    key, infant = an_id("family of others"), Infant(id=an_id("infant of others"), position=1)
    repository.open_family(key, [infant], opened_at=BORN_AT, opened_by="consultant")
    raised = []

    def save(number):
        def elsewhere():
            try:
                repository.append(key, [an_entry(f"note {number}", Note(text="x"), infant=infant)])
                assert on_record() == {key: number + 1}
            except Exception as error:  # noqa: BLE001 -- the test asserts that there is none
                raised.append(error)
            finally:
                connections.close_all()

        thread = threading.Thread(target=elsewhere)
        thread.start()
        thread.join(60)
        assert not thread.is_alive()

    turns = Turns(save)
    bring(turns=turns)
    assert raised == []
    assert on_record() == {**WHOLE, key: len(turns.rows)}


@pytest.mark.django_db
def test_a_job_that_was_cancelled_or_taken_for_dead_writes_nothing_more():
    now = BORN_AT + timedelta(days=1)
    for state, refused in (("cancelled", jobs.Cancelled), ("silent", jobs.Superseded)):
        job = jobs.add(UUID(int=1), "import", started_by="x", now=now)
        assert jobs.take(job.number, slot="import", now=now)

        def turn(number=job.number):
            return jobs.turn(number)

        def disturb(done, _total, state=state, job=job):
            if done and state == "cancelled":
                jobs.ask_to_cancel(job.id)
            elif done:
                later = now + timedelta(minutes=1)
                jobs.interrupt(silent_since=later, now=later)

        with pytest.raises(refused):
            bring(number=job.number, turns=turn, progress=disturb)
        assert written() > 0
        assert on_record() == {}
        jobs.end(job.number, jobs.State.CANCELLED, result="", now=now)
        arrival.drop(job.number)
        jobs.free(job.number)
        assert written() == 0


@pytest.mark.django_db
def test_the_rows_of_an_import_are_found_without_reading_the_whole_table():
    with connection.cursor() as cursor:
        explain = "EXPLAIN QUERY PLAN" if connection.vendor == "sqlite" else "EXPLAIN"
        if connection.vendor != "sqlite":
            cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute(f"{explain} SELECT seq FROM record_entry WHERE arrival = 7 LIMIT 5")
        assert "entries_of_arrival" in str(cursor.fetchall())
