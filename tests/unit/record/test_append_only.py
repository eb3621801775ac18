"""The database itself refuses to change or lose what is on the record, by every road."""

from __future__ import annotations

from contextlib import contextmanager
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import F

from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Infant, Note, Weight, Withdrawal
from suffice.record import append_only, arrival, models, policies, repository, teams

pytestmark = pytest.mark.django_db

FAMILY = an_id("family")
FIRST, SECOND = (Infant(id=an_id(f"infant {n}"), position=n) for n in (1, 2))
MODELS = [
    models.Family,
    models.Infant,
    models.Entry,
    models.PolicyVersion,
    models.Arrival,
    models.Link,
    models.Seal,
    models.Erasure,
    models.Placement,
    models.TrailEvent,
]
TABLES = [model._meta.db_table for model in MODELS]
REFUSED = "append-only"


@pytest.fixture(autouse=True)
def record():
    repository.open_family(FAMILY, [FIRST, SECOND], opened_at=BORN_AT, opened_by="consultant")
    weight = an_entry("weight", Weight(weight_g=3280.0), infant=FIRST)
    repository.append(FAMILY, [weight])
    policies.append(an_id("policy"), {}, entered_at=BORN_AT, entered_by="consultant")
    models.Arrival.objects.create(number=1, arrived_at=BORN_AT, opened_count=0, entry_count=0)
    models.Placement.objects.create(
        family_id=FAMILY, team_id=teams.first_team(now=BORN_AT), placed_at=BORN_AT, placed_by="one"
    )
    models.Erasure.objects.create(
        family_id=an_id("erased"),
        asked_at=BORN_AT,
        asked_by="one",
        erased_at=BORN_AT,
        erased_by="two",
        entry_count=0,
        chain_number=0,
    )
    models.Seal.objects.create(day=BORN_AT.date(), heads="[]")
    models.TrailEvent.objects.create(id=an_id("event"), at=BORN_AT, who="consultant", status=200)
    before = contents()
    yield weight
    assert contents() == before, "a refused change left a trace"


def contents():
    return {model.__name__: list(model.objects.order_by("pk").values()) for model in MODELS}


@contextmanager
def refused(message=REFUSED):
    """What runs within is refused by the database, and undone."""
    with pytest.raises(IntegrityError, match=message), transaction.atomic():
        yield


@contextmanager
def undone():
    """What runs within is allowed, and undone so that the record is as before."""
    before = transaction.savepoint()
    yield
    transaction.savepoint_rollback(before)


def test_the_triggers_stand_on_exactly_the_append_only_tables():
    assert sorted(append_only.IDENTITIES) == sorted(TABLES)


@pytest.mark.parametrize("model", MODELS)
def test_saving_an_instance_again_is_refused(model):
    instance = model.objects.first()
    with refused():
        instance.save()


@pytest.mark.parametrize("model", MODELS)
def test_a_queryset_update_is_refused(model):
    with refused():
        model.objects.update(**{model._meta.pk.name: F("pk")})


@pytest.mark.parametrize("model", MODELS)
def test_a_bulk_update_is_refused(model):
    field = "position" if model is models.Infant else model._meta.fields[-1].name
    with refused():
        model.objects.bulk_update(list(model.objects.all()), [field])


@pytest.mark.parametrize("model", [models.Entry, models.PolicyVersion, models.Arrival])
def test_deleting_through_the_orm_is_refused(model):
    with refused():
        model.objects.all().delete()
    with refused():
        model.objects.first().delete()


@pytest.mark.parametrize("model", MODELS)
def test_a_raw_delete_of_the_orm_is_refused(model):
    with refused():
        model.objects.all()._raw_delete("default")


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("statement", ["DELETE FROM {table}", "UPDATE {table} SET {key} = {key}"])
def test_raw_sql_is_refused(table, statement):
    key = append_only.IDENTITIES[table][0]
    with refused(), connection.cursor() as cursor:
        cursor.execute(statement.format(table=table, key=key))


@pytest.mark.parametrize("model", MODELS)
def test_an_upsert_is_refused(model):
    instance = model.objects.first()
    others = [field.name for field in model._meta.fields if not field.primary_key]
    with refused():
        model.objects.bulk_create(
            [instance],
            update_conflicts=True,
            unique_fields=[model._meta.pk.name],
            update_fields=others,
        )


@pytest.mark.parametrize("table", TABLES)
def test_insert_or_replace_is_refused_on_sqlite(table):
    if connection.vendor != "sqlite":
        pytest.skip("only SQLite knows INSERT OR REPLACE")
    with refused(), connection.cursor() as cursor:
        cursor.execute(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}")


@pytest.mark.parametrize("table", TABLES)
def test_truncate_is_refused_on_postgresql(table):
    if connection.vendor != "postgresql":
        pytest.skip("only PostgreSQL knows TRUNCATE")
    with refused(), connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")  # else TRUNCATE waits for the commit
        cursor.execute(f"TRUNCATE {table} CASCADE")


def test_playing_replica_does_not_lift_the_triggers_on_postgresql():
    if connection.vendor != "postgresql":
        pytest.skip("only PostgreSQL knows replication roles")
    with refused(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        cursor.execute("DELETE FROM record_entry")


def row(**changes):
    """A row of Entry, as a program that passes the repository by might write it."""
    values = {
        "id": uuid4(),
        "family_id": FAMILY,
        "infant_id": FIRST.id,
        "kind": "weight",
        "basis": "measured",
        "true_at": BORN_AT,
        "entered_at": BORN_AT,
        "entered_by": "consultant",
        "fact": {"kind": "weight", "weight_g": 3000.0},
    }
    return models.Entry(**{**values, **changes})


WITHDRAWAL = {"kind": "withdrawal", "fact": {"kind": "withdrawal", "reason": "wrong infant"}}


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"kind": "feed"}, "kind of its fact"),
        ({"infant_id": an_id("stranger")}, "infant of its own family"),
        ({"replaces_id": an_id("nothing")}, "replaces one of the same"),
        ({"replaces_id": an_id("weight"), "infant_id": SECOND.id}, "replaces one of the same"),
        ({"replaces_id": an_id("weight"), "infant_id": None}, "replaces one of the same"),
        (WITHDRAWAL, "replaces one of the same"),
        ({"basis": "guessed"}, "basis_is_known"),
    ],
)
def test_an_entry_that_does_not_fit_is_refused_by_the_database(changes, message):
    with refused(message):
        row(**changes).save(force_insert=True)


def test_a_second_replacement_is_refused_by_the_database():
    with refused("replaces"):
        row(replaces_id=an_id("weight")).save(force_insert=True)
        row(replaces_id=an_id("weight")).save(force_insert=True)


def test_what_replaces_a_withdrawal_keeps_the_kind_of_what_was_withdrawn(record):
    with undone():
        gone = row(**WITHDRAWAL, replaces_id=record.id)
        gone.save(force_insert=True)
        with refused("replaces one of the same"):
            row(kind="note", fact={"kind": "note", "text": "x"}, replaces_id=gone.id).save(
                force_insert=True
            )
        with refused("replaces one of the same"):
            row(**WITHDRAWAL, replaces_id=gone.id).save(force_insert=True)
        row(replaces_id=gone.id).save(force_insert=True)


def test_a_family_with_entries_of_the_other_family_is_refused():
    other = an_id("other family")
    with refused("infant of its own family"):
        models.Family.objects.create(id=other, opened_at=BORN_AT, opened_by="consultant")
        row(family_id=other).save(force_insert=True)


def test_the_caseload_row_may_be_overwritten_and_dropped():
    row = models.CaseloadRow(
        family_id=FAMILY,
        record_seq=1,
        policy_version=0,
        as_of=BORN_AT,
        valid_until=BORN_AT,
        discharged=False,
        tier=1,
        **{f"order_{n}": 0.0 for n in range(1, 7)},
    )
    row.save()
    row.tier = 2
    row.save()
    assert models.CaseloadRow.objects.get().tier == 2
    assert row.delete()[0] == 1


def test_a_withdrawal_and_a_note_pass_the_triggers(record):
    gone = an_entry("gone", Withdrawal(reason="wrong infant"), infant=FIRST, replaces=record)
    note = an_entry("note", Note(text="rang twice"), infant=None)
    with undone():
        repository.append(FAMILY, [gone, note])
        assert models.Entry.objects.count() == 3


def arriving(number, key):
    """A family with an infant and an entry, written under the number of an import."""
    infant = Infant(id=an_id(f"infant of {key}"), position=1)
    family = models.Family(id=an_id(key), opened_at=BORN_AT, opened_by="x", arrival=number)
    family.save(force_insert=True)
    models.Infant(id=infant.id, family=family, position=1, arrival=number).save(force_insert=True)
    entry = an_entry(f"weight of {key}", Weight(weight_g=3000.0), infant=infant)
    repository.insert([(family.id, entry)], arrival=number)


@pytest.mark.parametrize("model", [models.Entry, models.Infant, models.Family])
def test_what_never_came_onto_the_record_can_be_deleted_but_not_changed(model):
    with undone():
        arriving(2, "on its way")
        assert not model.objects.filter(arrival=2).exists()
        with refused():
            model.everything.filter(arrival=2).update(arrival=None)
        arrival.drop(2)
        assert not model.everything.filter(arrival=2).exists()


@pytest.mark.parametrize("model", [models.Entry, models.Infant, models.Family])
def test_what_has_arrived_can_neither_be_deleted_nor_added_to(model):
    with undone():
        arriving(2, "arrived")
        models.Arrival.objects.create(number=2, arrived_at=BORN_AT, opened_count=1, entry_count=1)
        assert model.objects.filter(arrival=2).count() == 1
        with refused():
            model.everything.filter(arrival=2)._raw_delete("default")
        with refused("has arrived"):
            arriving(2, "too late")
        arrival.drop(2)
        assert model.objects.filter(arrival=2).count() == 1
