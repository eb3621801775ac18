"""A record that was found changed is kept as it is: it can be read, and nothing is added to it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Infant, Note, Record
from suffice.errors import DamageError
from suffice.record import arrival, damage, repository, verified
from suffice.record.verify import Checked, Found, Wrong

pytestmark = pytest.mark.django_db

FAMILY, OTHER = an_id("family"), an_id("other")
CHANGED = Found(wrong=Wrong.CHANGED, form="entry", key=an_id("note").hex, family=FAMILY.hex)


def infant_of(family):
    return Infant(id=an_id(f"infant of {family}"), position=1)


@pytest.fixture(autouse=True)
def families():
    for key in (FAMILY, OTHER):
        repository.open_family(key, [infant_of(key)], opened_at=BORN_AT, opened_by="consultant")


def keep(*found):
    checked = Checked(link_count=1, row_count=1, found=found)
    verified.keep(checked, began_at=BORN_AT, ended_at=BORN_AT + timedelta(seconds=1))


def add_to(family):
    return repository.append(family, [an_entry(f"of {family}", Note(text="x"), infant=None)])


def test_nothing_is_added_to_a_damaged_record_and_the_others_go_on():
    keep(CHANGED)
    with pytest.raises(DamageError, match="RECORD-014"):
        add_to(FAMILY)
    assert repository.read(FAMILY).entries == ()
    assert add_to(OTHER).new
    assert damage.is_damaged(FAMILY)
    assert not damage.is_damaged(OTHER)
    assert not damage.is_damaged(None)


def test_an_import_into_a_damaged_record_is_refused():
    keep(CHANGED)
    record = Record(
        family_id=FAMILY,
        infants=(infant_of(FAMILY),),
        entries=(an_entry("n", Note(text="x"), infant=None),),
    )
    with pytest.raises(DamageError, match="RECORD-014"):
        arrival.bring(
            9,
            [record],
            opened_at=BORN_AT,
            opened_by="consultant",
            turn=repository.one_transaction,
            progress=lambda _done, _all: None,
        )


def test_a_damaged_page_of_the_database_concerns_every_family():
    keep(Found(wrong=Wrong.PAGE, key="row 4 missing from index"))
    for family in (FAMILY, OTHER):
        with pytest.raises(DamageError, match="RECORD-014"):
            add_to(family)
    assert damage.is_damaged(None)


def test_damage_of_no_family_stops_nobody():
    keep(Found(wrong=Wrong.CHANGED, form="policy", key=an_id("policy").hex))
    assert add_to(FAMILY).new


def test_a_later_check_that_finds_nothing_lets_the_record_go_on():
    keep(CHANGED)
    verified.add((CHANGED, Found(wrong=Wrong.REMOVED, form="entry", key="0", family=FAMILY.hex)))
    assert [one.wrong for one in verified.known()] == [Wrong.CHANGED, Wrong.REMOVED]
    keep()
    assert verified.known() == ()
    assert add_to(FAMILY).new
    last = verified.last()
    assert last is not None
    assert last.damage_count == 0
