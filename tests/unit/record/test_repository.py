"""What goes into the record comes out of it unchanged; what does not fit is refused whole."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from uuid import UUID

import msgspec
import pytest
from django.db import connection, transaction
from django.db.models.signals import post_init
from hypothesis import HealthCheck, given, settings

from people import BORN_AT, an_entry, an_id
from strategies import instants, records
from suffice.clinical.entry import Contact, Infant, Note, Setting, Weight, Withdrawal
from suffice.errors import InputError, StorageError
from suffice.exchange.family.family_json import FamilyFile, decode, encode
from suffice.record import models, repository

pytestmark = pytest.mark.django_db

FAMILY = an_id("family")
FIRST, SECOND = (Infant(id=an_id(f"infant {n}"), position=n) for n in (1, 2))
WEIGHT = an_entry("weight", Weight(weight_g=3280.0), infant=FIRST, at_h=1)
NOTE = an_entry("note", Note(text="rang twice"), infant=None)


@pytest.fixture(autouse=True)
def family():
    repository.open_family(FAMILY, [FIRST, SECOND], opened_at=BORN_AT, opened_by="consultant")


def codes(*entries, family_id=FAMILY, exact=False):
    """The codes with which an append is refused, having stored nothing."""
    before = models.Entry.objects.count()
    with pytest.raises(InputError) as caught:
        repository.append(family_id, entries, exact=exact)
    assert models.Entry.objects.count() == before
    return [problem.code for problem in caught.value.problems]


def changed(entry, **changes):
    return msgspec.structs.replace(entry, **changes)


@contextmanager
def undone():
    before = transaction.savepoint()
    yield
    transaction.savepoint_rollback(before)


@given(records(), instants())
@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_record_is_read_back_as_it_was_appended(record, opened_at):
    with undone():
        key = record.family_id
        repository.open_family(key, record.infants, opened_at=opened_at, opened_by="consultant")
        done = repository.append(key, record.entries)
        read = repository.read(key)
        assert set(done.new) == {entry.id for entry in record.entries}
        assert not done.already_there
        assert {e.id: e for e in read.entries} == {e.id: e for e in record.entries}
        assert set(read.infants) == set(record.infants)
        assert read.entries_at(datetime(2031, 1, 1, tzinfo=UTC)) == record.entries_at(
            datetime(2031, 1, 1, tzinfo=UTC)
        )


@given(records(), instants())
@settings(
    deadline=None, max_examples=50, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_export_import_export_is_the_same_file_and_a_second_import_a_no_op(record, opened_at):
    with undone():
        key = record.family_id
        repository.open_family(key, record.infants, opened_at=opened_at, opened_by="consultant")
        repository.append(key, record.entries)
        at, by = repository.opening(key)
        first = encode(FamilyFile.from_record(repository.read(key), opened_at=at, opened_by=by))
        again = repository.append(key, decode(first).file.entries, exact=True)
        assert not again.new
        assert set(again.already_there) == {entry.id for entry in record.entries}
        assert (
            encode(FamilyFile.from_record(repository.read(key), opened_at=at, opened_by=by))
            == first
        )


def test_entries_are_read_in_the_order_in_which_they_were_stored():
    later = an_entry("later", Note(text="b"), infant=None, at_h=-5)
    repository.append(FAMILY, [WEIGHT, NOTE])
    repository.append(FAMILY, [later])
    assert repository.read(FAMILY).entries == (WEIGHT, NOTE, later)


def test_a_repeated_entry_is_a_no_op():
    first = repository.append(FAMILY, [WEIGHT])
    second = repository.append(FAMILY, [WEIGHT, NOTE])
    assert (second.new, second.already_there) == ((NOTE.id,), (WEIGHT.id,))
    assert second.latest_seq == first.latest_seq + 1
    assert repository.append(FAMILY, [WEIGHT]).latest_seq == second.latest_seq


def test_the_same_entry_twice_in_one_append_is_stored_once():
    done = repository.append(FAMILY, [NOTE, NOTE])
    assert (done.new, done.already_there) == ((NOTE.id,), (NOTE.id,))
    assert repository.read(FAMILY).entries == (NOTE,)


def test_the_first_arrival_dates_an_entry_unless_exactness_is_asked_for():
    repository.append(FAMILY, [NOTE])
    late = changed(NOTE, entered_at=NOTE.entered_at + timedelta(hours=1))
    assert repository.append(FAMILY, [late]).already_there == (NOTE.id,)
    assert repository.read(FAMILY).entries == (NOTE,)
    assert codes(late, exact=True) == ["RECORD-002"]


@pytest.mark.parametrize(
    "changes",
    [
        {"fact": Note(text="rang three times")},
        {"true_at": BORN_AT + timedelta(seconds=1)},
        {"entered_by": "somebody else"},
        {"device": None},
        {"infant_id": FIRST.id},
    ],
)
def test_an_id_with_other_content_is_refused(changes):
    repository.append(FAMILY, [NOTE])
    assert codes(changed(NOTE, **changes)) == ["RECORD-002"]
    assert repository.read(FAMILY).entries == (NOTE,)


def test_an_id_that_another_family_uses_is_refused():
    repository.append(FAMILY, [NOTE])
    other = an_id("other family")
    infant = Infant(id=an_id("other infant"), position=1)
    repository.open_family(other, [infant], opened_at=BORN_AT, opened_by="consultant")
    assert codes(NOTE, family_id=other) == ["RECORD-002"]


def test_one_wrong_entry_among_many_stores_none_and_every_problem_is_told():
    stranger = changed(an_entry("a", Weight(weight_g=1.0), infant=FIRST), infant_id=UUID(int=1))
    nameless = an_entry("b", Weight(weight_g=1.0), infant=None)
    infinite = an_entry("c", Weight(weight_g=float("inf")), infant=FIRST)
    assert codes(WEIGHT, stranger, nameless, infinite) == ["RECORD-006", "RECORD-006", "RECORD-007"]


@pytest.mark.parametrize(
    "entry",
    [
        an_entry("x", Weight(weight_g=float("nan")), infant=FIRST),
        an_entry("x", Note(text="a\x00b"), infant=None),
        an_entry("x", Note(text="\ud800"), infant=None),
        changed(NOTE, device="\x00"),
        changed(NOTE, true_at=datetime(1, 1, 1, tzinfo=UTC)),
        changed(NOTE, entered_at=datetime(9999, 1, 1, tzinfo=UTC)),
        an_entry(
            "x",
            Contact(setting=Setting.WARD, next_due_at=datetime(2026, 1, 1)),  # noqa: DTZ001
            infant=None,
        ),
    ],
)
def test_what_could_not_be_read_back_is_refused(entry):
    assert codes(entry) == ["RECORD-007"]


def test_a_fact_that_holds_what_its_kind_does_not_declare_is_not_written():
    """A fault of ours, not of who typed it: it may not make the family unreadable for ever."""
    wrong = an_entry("wrong", Weight(weight_g="3280"), infant=FIRST, at_h=1)
    with pytest.raises(msgspec.ValidationError, match="weight_g"):
        repository.append(FAMILY, [WEIGHT, wrong])
    assert repository.read(FAMILY).entries == ()


def test_an_unknown_family_is_refused_for_reading_and_for_writing():
    assert codes(NOTE, family_id=UUID(int=9)) == ["RECORD-001"]
    for ask in (repository.read, repository.opening):
        with pytest.raises(InputError, match="RECORD-001"):
            ask(UUID(int=9))


def a_weight(name, weight_g, replaces=None, **options):
    return an_entry(
        name, Weight(weight_g=weight_g), infant=FIRST, at_h=1, replaces=replaces, **options
    )


def test_a_chain_of_corrections_continues_from_the_newest():
    second = a_weight("second", 3180.0, WEIGHT)
    third = a_weight("third", 3190.0, second)
    repository.append(FAMILY, [WEIGHT])
    repository.append(FAMILY, [third, second])  # in any order
    assert repository.read(FAMILY).entries_at(WEIGHT.true_at) == (third,)
    assert codes(a_weight("fourth", 3200.0, WEIGHT)) == ["RECORD-004"]
    assert codes(a_weight("fourth", 3200.0, second)) == ["RECORD-004"]


def test_two_corrections_of_one_entry_in_one_append_are_refused():
    repository.append(FAMILY, [WEIGHT])
    assert codes(a_weight("a", 1.0, WEIGHT), a_weight("b", 2.0, WEIGHT)) == ["RECORD-004"]


def test_a_correction_keeps_kind_infant_and_family():
    repository.append(FAMILY, [WEIGHT, NOTE])
    assert codes(an_entry("a", Note(text="x"), infant=FIRST, replaces=WEIGHT)) == ["RECORD-005"]
    other = an_entry("b", Weight(weight_g=1.0), infant=SECOND, replaces=WEIGHT)
    assert codes(other) == ["RECORD-005"]
    assert codes(a_weight("c", 1.0, changed(WEIGHT, id=UUID(int=3)))) == ["RECORD-003"]


def test_a_withdrawal_leaves_no_current_entry_and_can_be_taken_back():
    gone = an_entry("gone", Withdrawal(reason="wrong infant"), infant=FIRST, replaces=WEIGHT)
    repository.append(FAMILY, [WEIGHT, gone])
    after = WEIGHT.true_at + timedelta(days=1)
    assert repository.read(FAMILY).entries_at(after) == ()
    assert codes(an_entry("w", Withdrawal(reason="no"), infant=FIRST, replaces=gone)) == [
        "RECORD-005"
    ]
    back = a_weight("back", 3280.0, gone)
    repository.append(FAMILY, [back])
    assert repository.read(FAMILY).entries_at(after) == (back,)


def test_a_withdrawal_that_names_nothing_is_refused():
    assert codes(an_entry("gone", Withdrawal(reason="?"), infant=FIRST)) == ["RECORD-003"]


def test_opening_a_family_again_is_a_no_op_and_otherwise_refused():
    def open_again(family_id, *infants):
        return repository.open_family(family_id, infants, opened_at=BORN_AT, opened_by="x")

    assert not open_again(FAMILY, SECOND, FIRST)
    for family_id, infants in ((FAMILY, [FIRST]), (an_id("other"), [FIRST])):
        with pytest.raises(InputError, match="RECORD-008"):
            open_again(family_id, *infants)
    for infants in ([], [SECOND], [FIRST, changed(FIRST, position=2)]):
        with pytest.raises(InputError, match="RECORD-011"):
            open_again(an_id("other"), *infants)
    assert models.Family.objects.count() == 1
    assert repository.opening(FAMILY) == (BORN_AT, "consultant")


def test_an_entry_of_a_newer_version_of_the_program_is_not_passed_over():
    models.Entry.objects.create(
        id=UUID(int=5),
        family_id=FAMILY,
        kind="dream",
        basis="reported",
        true_at=BORN_AT,
        entered_at=BORN_AT,
        entered_by="x",
        fact={"kind": "dream"},
    )
    with pytest.raises(StorageError, match="RECORD-010"):
        repository.read(FAMILY)


def test_many_records_are_read_in_a_fixed_number_of_queries(django_assert_num_queries):
    keys = [an_id(f"family {n}") for n in range(20)]
    for key in keys:
        infant = Infant(id=an_id(f"infant of {key}"), position=1)
        repository.open_family(key, [infant], opened_at=BORN_AT, opened_by="consultant")
        repository.append(key, [an_entry(f"note of {key}", Note(text="x"), infant=infant)])
    with django_assert_num_queries(3):
        found = repository.read_many([*keys, UUID(int=9), keys[0]])
    assert list(found) == sorted(keys, key=list(found).index)
    assert set(found) == set(keys)
    assert all(len(record.entries) == 1 for record in found.values())
    assert set(repository.family_ids()) == {FAMILY, *keys}
    assert repository.latest_seqs([FAMILY, *keys]) == {
        key: repository.latest_seq(key) for key in keys
    }


def test_reading_a_record_builds_no_rows_of_django_in_between():
    """Rows become entries at once, which is what keeps reading a long record quick."""
    repository.append(FAMILY, [a_weight(f"weight {n}", 3000.0 + n) for n in range(50)])
    built = []

    def count(sender, **_):
        built.append(sender)

    post_init.connect(count)
    try:
        read = repository.read(FAMILY)
        assert (len(read.entries), built) == (50, [])
        assert len(models.Entry.objects.filter(family_id=FAMILY)) == len(built) == 50
    finally:
        post_init.disconnect(count)


def test_a_failure_of_the_database_is_told_as_one_and_stores_nothing():
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE record_entry RENAME TO record_entry_gone")
    before = transaction.savepoint()
    with pytest.raises(StorageError, match="RECORD-009"):
        repository.append(FAMILY, [NOTE])
    transaction.savepoint_rollback(before)
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE record_entry_gone RENAME TO record_entry")
    assert repository.read(FAMILY).entries == ()
