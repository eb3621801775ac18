"""What a check of the chains finds of everything that somebody with the database in hand may do."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection

from lifted import triggers_lifted
from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Infant, Note, Weight
from suffice.record import append_only, chain, models, policies, repository, seal
from suffice.record.newest import look
from suffice.record.verify import Found, Wrong, verify
from verified import found_by_verify

pytestmark = pytest.mark.django_db

FAMILY, OTHER = an_id("family"), an_id("other")
INFANT = Infant(id=an_id("infant"), position=1)
SECOND = Infant(id=an_id("second"), position=1)
TODAY = datetime(2026, 5, 2, tzinfo=UTC).date()


def a_weight(key, weight_g=3280.0):
    return an_entry(key, Weight(weight_g=weight_g), infant=INFANT)


@pytest.fixture(autouse=True)
def record(settings, tmp_path):
    settings.HOME = tmp_path
    repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="consultant")
    repository.open_family(OTHER, [SECOND], opened_at=BORN_AT, opened_by="colleague")
    for key in ("first", "second", "third"):
        repository.append(FAMILY, [a_weight(key)])
    repository.append(OTHER, [an_entry("note", Note(text="rang twice"), infant=None)])
    policies.append(an_id("policy"), {"zone": "UTC"}, entered_at=BORN_AT, entered_by="consultant")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            # Else no trigger can be dropped before the transaction of the test has ended.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def run(statement, *params):
    with triggers_lifted(), connection.cursor() as cursor:
        cursor.execute(statement, params)
        assert cursor.rowcount > 0, "the attack did nothing"


def seq_of(key):
    return models.Entry.objects.get(id=an_id(key)).seq


def found():
    """What is found, without the digests by which one finding is told from a later one."""
    return set(found_by_verify())


def entry(wrong, key, family=FAMILY):
    return Found(wrong=wrong, form="entry", key=an_id(key).hex, family=family.hex)


def test_a_record_that_nobody_touched_is_whole():
    checked = verify()
    assert checked.found == ()
    assert checked.row_count == 2 + 2 + 4 + 1
    assert checked.link_count == 2 + 4 + 1
    assert look(5.0).found == ()


CHANGES = {
    "entered_by": "somebody",
    "entered_at": BORN_AT - timedelta(days=1),
    "true_at": BORN_AT - timedelta(days=1),
    "basis": "reported",
    "device": "another scale",
    "fact": '{"kind": "weight", "weight_g": 3281.0}',
    "arrival": 7,
}


@pytest.mark.parametrize("column", CHANGES)
def test_an_entry_that_was_changed_is_named(column):
    run(
        f"UPDATE record_entry SET {column} = %s WHERE seq = %s",
        CHANGES[column],
        seq_of("second"),
    )
    wrong = Wrong.REMOVED if column == "arrival" else Wrong.CHANGED
    assert found() == {entry(wrong, "second")}


def test_a_number_written_otherwise_is_no_change():
    text = '{"weight_g": 3280, "kind": "weight"}'
    stored = models.Entry.objects.get(id=an_id("second"))
    row = dict(stored.fact)
    assert chain.canonical_json(text)["weight_g"] == row["weight_g"]
    assert chain.hashed(chain.canonical_json({"b": 1, "a": 1e22})) == chain.hashed(
        chain.canonical_json('{"a": 10000000000000000000000, "b": 1.0}')
    )


def test_an_entry_that_was_removed_is_named_the_newest_too():
    run("DELETE FROM record_entry WHERE seq = %s", seq_of("third"))
    assert found() == {entry(Wrong.REMOVED, "third")}


def test_an_entry_that_was_added_is_named():
    row = models.Entry.objects.get(id=an_id("third"))
    row.pk, row.id = None, an_id("forged")
    row.save(force_insert=True)
    assert found() == {entry(Wrong.ADDED, "forged")}


def test_entries_that_changed_places_are_named():
    one, other = seq_of("first"), seq_of("second")
    with triggers_lifted(), connection.cursor() as cursor:
        for there, to in ((one, -1), (other, one), (-1, other)):
            cursor.execute("UPDATE record_entry SET seq = %s WHERE seq = %s", [to, there])
    assert found() == {entry(Wrong.CHANGED, "first"), entry(Wrong.CHANGED, "second")}


def test_an_entry_that_was_moved_to_another_family_is_named_in_the_one_it_was_entered_for():
    run("UPDATE record_entry SET infant_id = NULL WHERE seq = %s", seq_of("second"))
    run("UPDATE record_entry SET family_id = %s WHERE seq = %s", key(OTHER), seq_of("second"))
    assert found() == {entry(Wrong.CHANGED, "second")}


def key(one):
    return one.hex if connection.vendor == "sqlite" else one


def test_a_policy_and_a_family_are_watched_too():
    run("UPDATE record_policyversion SET entered_by = 'x'")
    run("UPDATE record_family SET opened_by = 'x' WHERE id = %s", key(OTHER))
    assert found() == {
        Found(wrong=Wrong.CHANGED, form="policy", key=an_id("policy").hex),
        Found(wrong=Wrong.CHANGED, form="family", key=OTHER.hex, family=OTHER.hex),
    }


def link(place):
    name, number = place.split("#")
    return models.Link.objects.get(chain=name, number=number)


def test_a_link_that_was_taken_out_breaks_the_chain_where_it_was():
    run("DELETE FROM record_link WHERE seq = %s", link(f"{FAMILY.hex}#3").seq)
    assert found() == {
        Found(wrong=Wrong.LINK, key=f"{FAMILY.hex}#4", family=FAMILY.hex),
        entry(Wrong.ADDED, "second"),
    }


def test_links_that_changed_places_break_the_chain():
    one, other = link(f"{FAMILY.hex}#3").seq, link(f"{FAMILY.hex}#4").seq
    with triggers_lifted(), connection.cursor() as cursor:
        for there, to in ((one, 99), (other, 3), (one, 4)):
            cursor.execute("UPDATE record_link SET number = %s WHERE seq = %s", [to, there])
    places = {one.key for one in found() if one.wrong is Wrong.LINK}
    assert places == {f"{FAMILY.hex}#3", f"{FAMILY.hex}#4"}


def cut_off_the_newest():
    """Take the newest entry away with its link."""
    run("DELETE FROM record_entry WHERE seq = %s", seq_of("third"))
    run("DELETE FROM record_link WHERE seq = %s", link(f"{FAMILY.hex}#4").seq)


def test_a_chain_that_was_cut_short_is_shorter_than_it_was_counted():
    cut_off_the_newest()
    assert found() == {Found(wrong=Wrong.CUT, key=f"{FAMILY.hex}#4", family=FAMILY.hex)}
    assert {one.wrong for one in look(5.0).found} == {Wrong.CUT}


def count_again():
    """Let the head of the chain end where it was cut."""
    last = link(f"{FAMILY.hex}#3")
    head = models.ChainHead.objects.filter(chain=last.chain)
    assert head.update(number=last.number, hash=last.hash) == 1


def test_a_chain_that_was_cut_short_and_counted_again_misses_what_was_sealed():
    assert seal.seal(TODAY) == 3
    cut_off_the_newest()
    count_again()
    assert found() == {Found(wrong=Wrong.SEAL, key=f"{FAMILY.hex}#4", family=FAMILY.hex)}


def test_seals_that_were_taken_away_are_missed_by_the_file_outside():
    seal.seal(TODAY)
    cut_off_the_newest()
    count_again()
    run("DELETE FROM record_seal")
    run("DELETE FROM record_link WHERE chain = 'seals'")
    models.ChainHead.objects.filter(chain="seals").delete()
    assert found() == {Found(wrong=Wrong.SEAL, form="seal", key=str(seal_number()))}


def seal_number():
    (line,) = seal.written_down()
    return line.number


def test_a_chain_that_was_taken_away_whole_is_missed():
    run("DELETE FROM record_link WHERE chain = %s", FAMILY.hex)
    assert Found(wrong=Wrong.CUT, key=f"{FAMILY.hex}#1", family=FAMILY.hex) in found()


@pytest.mark.parametrize("rows", ["no json", '[["horoscope","1","x"]]', '[["a","b"]]', "[1]"])
def test_a_link_that_cannot_be_read_is_named(rows):
    newest = link("policy#1")
    run("UPDATE record_link SET rows = %s WHERE seq = %s", rows, newest.seq)
    assert Found(wrong=Wrong.LINK, key="policy#1") in found()
    assert Found(wrong=Wrong.LINK, key="policy#1") in look(5.0).found


def test_a_quick_look_finds_what_is_wrong_with_the_newest():
    run("UPDATE record_entry SET entered_by = 'x' WHERE seq = %s", seq_of("third"))
    looked = look(5.0)
    assert looked.found == (entry(Wrong.CHANGED, "third"),)
    assert looked.checked == looked.link_count == 7


def test_a_quick_look_stops_when_time_is_up():
    looked = look(0.0)
    assert looked.checked == 1
    assert looked.link_count == 7


@contextmanager
def drop(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)
    yield
    append_only.put_back(connection)
    assert found() == set()


def a_trigger():
    return {"sqlite": "record_entry_no_update", "postgresql": "record_entry_refuse"}[
        connection.vendor
    ]


def test_a_trigger_that_is_missing_is_named_and_can_be_put_back():
    on = "" if connection.vendor == "sqlite" else " ON record_entry"
    with drop(f"DROP TRIGGER {a_trigger()}{on}"):
        assert found() == {Found(wrong=Wrong.TRIGGER, key=a_trigger())}
        assert look(1.0).found == (Found(wrong=Wrong.TRIGGER, key=a_trigger()),)


def test_a_trigger_that_does_nothing_is_named():
    if connection.vendor == "sqlite":
        with drop(f"DROP TRIGGER {a_trigger()}"), connection.cursor() as cursor:
            cursor.execute(
                f"CREATE TRIGGER {a_trigger()} BEFORE UPDATE ON record_entry BEGIN SELECT 1; END"
            )
            assert found() == {Found(wrong=Wrong.TRIGGER, key=a_trigger())}
    else:
        nothing = "CREATE OR REPLACE FUNCTION record_refuse() RETURNS trigger LANGUAGE plpgsql"
        with drop(f"{nothing} AS $$ BEGIN RETURN NULL; END $$"):
            assert found() == {Found(wrong=Wrong.TRIGGER, key="record_refuse")}


def test_a_clock_that_was_set_back_is_said(monkeypatch):
    before = datetime.now(UTC)
    monkeypatch.setattr(chain.timezone, "now", lambda: before - timedelta(hours=3))
    repository.append(FAMILY, [a_weight("late")])
    checked = verify()
    assert checked.found == ()
    ((was, then),) = checked.back
    assert timedelta(hours=2) < was - then < timedelta(hours=4)
