"""A family that two people erased is gone, the chains are whole, and nothing else could be removed."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Identity, Infant, Record, Weight
from suffice.errors import InputError, StorageError
from suffice.record import (
    chain,
    damage,
    erasure,
    jobs,
    models,
    repository,
    seal,
    sqlite_file,
    teams,
    wiping,
)
from suffice.record.arrival import bring
from suffice.record.erasure import Erased, Request
from suffice.record.newest import look
from suffice.record.verify import Found, Wrong
from verified import found_by_verify

pytestmark = pytest.mark.django_db

FAMILY, OTHER = an_id("family"), an_id("other")
INFANT, SECOND = Infant(id=an_id("infant"), position=1), Infant(id=an_id("second"), position=1)
NAME = "Inventada Zarzamora"
NOW = datetime(2040, 1, 1, 12, tzinfo=UTC)
ASKED = Request(family_id=FAMILY, at=NOW, by="one", why="retention")


@pytest.fixture(autouse=True)
def record(settings, tmp_path) -> None:
    settings.HOME = tmp_path
    first = teams.first_team(now=BORN_AT)
    for family, infant in ((FAMILY, INFANT), (OTHER, SECOND)):
        repository.open_family(family, [infant], opened_at=BORN_AT, opened_by="one")
        name = an_entry(f"name {family}", Identity(name=NAME), infant=infant)
        weight = an_entry(f"weight {family}", Weight(weight_g=3280.0), infant=infant)
        repository.append(family, [name])
        repository.append(family, [weight])
        teams.place([family], first, now=BORN_AT, by="one", note=f"ask {NAME} about pain")


def erase() -> Erased:
    erasure.ask(ASKED)
    return erasure.erase(FAMILY, by="two", now=NOW)


def rows_about(name: str) -> list[str]:
    """Every table that has a text in any of its columns."""
    found = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names():
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            if name in str(cursor.fetchall()):
                found.append(table)
    return found


def test_nothing_of_an_erased_family_is_left_but_that_it_was_erased() -> None:
    before = models.ChainHead.objects.get(chain=FAMILY.hex)
    done = erase()
    assert done == Erased(
        family_id=FAMILY,
        asked_at=NOW,
        asked_by="one",
        why="retention",
        erased_at=NOW,
        erased_by="two",
        entry_count=2,
    )
    with pytest.raises(InputError, match="RECORD-001"):
        repository.read(FAMILY)
    assert list(erasure.every()) == [done]
    kept = models.Erasure.objects.get()
    assert (kept.chain_number, kept.chain_hash) == (before.number, before.hash)
    for table, column in wiping.OF_FAMILY:
        key = FAMILY.hex if connection.vendor == "sqlite" or column == "chain" else str(FAMILY)
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT count(*) FROM {table} WHERE {column} = %s", [key])
            assert cursor.fetchone() == (0,), table
    assert len(repository.read(OTHER).entries) == 2


def test_the_names_are_gone_from_every_table() -> None:
    erasure.ask(Request(family_id=OTHER, at=NOW, by="one", why="asked"))
    erasure.erase(OTHER, by="two", now=NOW)
    assert {"record_entry", "record_placement"} <= set(rows_about(NAME))
    erase()
    assert rows_about(NAME) == []


def test_the_chains_are_whole_afterwards_sealed_before_or_after() -> None:
    seal.seal(BORN_AT.date())
    repository.append(FAMILY, [an_entry("later", Weight(weight_g=3300.0), infant=INFANT)])
    erase()
    assert found_by_verify() == ()
    seal.seal(NOW.date())
    assert found_by_verify() == ()
    assert look(5.0).found == ()


def test_an_erased_family_of_an_import_leaves_the_links_of_the_others_whole() -> None:
    ids = [an_id("imported"), an_id("imported too")]
    records = [
        Record(
            family_id=key,
            infants=(infant := Infant(id=an_id(f"infant of {key}"), position=1),),
            entries=(an_entry(f"of {key}", Identity(name=NAME), infant=infant),),
        )
        for key in ids
    ]
    job = jobs.add(an_id("job"), "import", started_by="one", now=BORN_AT)
    bring(
        job.number,
        records,
        opened_at=BORN_AT,
        opened_by="one",
        turn=transaction.atomic,
        progress=lambda _done, _total: None,
    )
    erasure.ask(Request(family_id=ids[0], at=NOW, by="one", why="order"))
    erasure.erase(ids[0], by="two", now=NOW)
    assert found_by_verify() == ()
    assert look(5.0).found == ()
    assert repository.read(ids[1]).entries


def test_one_person_alone_erases_nothing() -> None:
    with pytest.raises(InputError, match="RECORD-016"):
        erasure.erase(FAMILY, by="one", now=NOW)
    erasure.ask(ASKED)
    with pytest.raises(InputError, match="RECORD-016"):
        erasure.erase(FAMILY, by="one", now=NOW)
    assert erasure.take_back(FAMILY)
    assert not erasure.take_back(FAMILY)
    with pytest.raises(InputError, match="RECORD-016"):
        erasure.erase(FAMILY, by="two", now=NOW)
    assert len(repository.read(FAMILY).entries) == 2
    assert not wiping.is_owed(), "nothing was erased that could be wiped"


def test_the_database_itself_wants_two_people_and_an_erasure() -> None:
    """Whoever passes the program by is held to the same."""
    for table in ("record_entry", "record_infant", "record_link", "record_family"):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"DELETE FROM {table}")
    given = {"family_id": FAMILY, "asked_at": NOW, "why": "", "erased_at": NOW, "entry_count": 0}
    given |= {"chain_number": 0, "chain_hash": "", "asked_by": "one", "erased_by": "one"}
    with pytest.raises(IntegrityError), transaction.atomic():
        models.Erasure.objects.create(**given)


def test_an_erasure_of_one_family_lets_no_row_of_another_go() -> None:
    erase()
    for table in ("record_entry", "record_infant", "record_link", "record_family"):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"DELETE FROM {table}")
    with pytest.raises(DatabaseError), transaction.atomic():
        models.Erasure.objects.all().delete()


def test_an_erased_family_does_not_come_back() -> None:
    erase()
    with pytest.raises(InputError, match="RECORD-017"):
        repository.open_family(FAMILY, [INFANT], opened_at=NOW, opened_by="one")
    with pytest.raises(DatabaseError), transaction.atomic():
        models.Family.objects.create(id=FAMILY, opened_at=NOW, opened_by="one")
    with pytest.raises(InputError, match="RECORD-001"):
        repository.append(FAMILY, [an_entry("late", Weight(weight_g=3300.0), infant=INFANT)])


def test_a_row_that_somebody_takes_away_is_still_found() -> None:
    """Only a family's own erasure explains what is missing."""
    from lifted import triggers_lifted  # noqa: PLC0415

    erase()
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    gone = models.Entry.objects.filter(family_id=str(OTHER)).order_by("-seq").first()
    with triggers_lifted(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM record_entry WHERE seq = %s", [gone.seq])
    removed = Found(wrong=Wrong.REMOVED, form="entry", key=gone.id.hex, family=OTHER.hex)
    assert set(found_by_verify()) == {removed}


def test_an_erasure_that_no_chain_names_is_found() -> None:
    """A forged erasure would explain what is missing; it is itself something that was added."""
    given = {"family_id": OTHER, "asked_at": NOW, "why": "", "erased_at": NOW, "entry_count": 0}
    given |= {"chain_number": 0, "chain_hash": "", "asked_by": "one", "erased_by": "two"}
    models.Erasure.objects.create(**given)
    found = found_by_verify()
    assert Found(wrong=Wrong.ADDED, form="erasure", key=OTHER.hex) in found
    # What is still there of a family that was erased should not be.
    assert any(one.form == "entry" and one.family == OTHER.hex for one in found)


def test_a_damaged_record_is_kept_as_it_was_found() -> None:
    models.Damage.objects.create(code=Wrong.CHANGED, family_id=FAMILY, form="entry", key="x")
    erasure.ask(ASKED)
    assert damage.is_damaged(FAMILY)
    with pytest.raises(StorageError, match="RECORD-014"):
        erasure.erase(FAMILY, by="two", now=NOW)


def test_what_was_erased_since_a_backup_is_erased_again_once() -> None:
    done = Erased(
        family_id=FAMILY,
        asked_at=NOW,
        asked_by="one",
        why="asked",
        erased_at=NOW,
        erased_by="two",
        entry_count=2,
    )
    assert erasure.erase_again(done)
    assert not erasure.erase_again(done)
    assert list(erasure.every()) == [done]
    assert found_by_verify() == ()


def test_a_request_stands_once() -> None:
    assert erasure.ask(ASKED)
    assert not erasure.ask(ASKED)
    assert erasure.requests() == (ASKED,)
    assert erasure.request_of(FAMILY) == ASKED
    assert erasure.request_of(OTHER) is None
    with pytest.raises(InputError, match="RECORD-001"):
        erasure.ask(Request(family_id=an_id("nobody"), at=NOW, by="one", why="asked"))


@pytest.mark.django_db(transaction=True)
def test_nothing_of_it_is_left_in_the_files_of_the_database(tmp_path) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL's files are its own; VACUUM is asked for there")
    erasure.ask(Request(family_id=OTHER, at=NOW, by="one", why="asked"))
    erasure.erase(OTHER, by="two", now=NOW)
    path = str(connection.settings_dict["NAME"])
    if "mode=memory" in path or path == ":memory:":
        pytest.skip("the test's database is no file")
    assert (NAME.encode() in b"".join(_files(path))) is not sqlite_file.is_encrypted()
    erase()
    assert NAME.encode() not in b"".join(_files(path))


def _files(path: str) -> list[bytes]:
    from pathlib import Path  # noqa: PLC0415

    return [one.read_bytes() for one in Path(path).parent.glob(f"{Path(path).name}*")]


def test_the_chain_of_erasures_is_its_own() -> None:
    erase()
    assert models.Link.objects.filter(chain=chain.ERASURES).count() == 1
