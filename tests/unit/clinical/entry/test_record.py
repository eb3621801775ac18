"""Entries of a record: which of them stand, when, and about whom."""

from __future__ import annotations

from datetime import datetime, timedelta

import msgspec
import pytest

from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry.body import Temperature
from suffice.clinical.entry.contact import Note, Withdrawal
from suffice.clinical.entry.record import (
    KINDS,
    Infant,
    Record,
    about,
    count_until,
    standing,
)
from suffice.clinical.entry.weight import Weight

INFANT = Infant(id=an_id("infant"), position=1)
OLD = an_entry("old", Weight(weight_g=3200), infant=INFANT, at_h=20)
NEW = an_entry("new", Weight(weight_g=3100), infant=INFANT, at_h=20, replaces=OLD)
GONE = an_entry("gone", Withdrawal(reason="x"), infant=INFANT, at_h=20, replaces=NEW)
NOTE = an_entry("note", Note(text="x"), infant=None, at_h=5)


def record(*entries):
    return Record(family_id=an_id("family"), infants=(INFANT,), entries=entries)


def at(hours):
    return BORN_AT + timedelta(hours=hours)


@pytest.mark.parametrize("name", ["true_at", "entered_at"])
def test_an_instant_without_an_offset_is_refused(name):
    with pytest.raises(ValueError, match="offset"):
        msgspec.structs.replace(OLD, **{name: datetime(2026, 3, 1)})  # noqa: DTZ001 -- the fault


def test_what_is_replaced_or_withdrawn_does_not_stand():
    assert record(OLD, NOTE).entries_at(at(30)) == (NOTE, OLD)
    assert record(NEW, OLD).entries_at(at(30)) == (NEW,)
    assert record(OLD, GONE, NEW).entries_at(at(30)) == ()


def test_an_entry_stands_from_the_instant_at_which_it_was_true():
    assert record(OLD).entries_at(at(20)) == (OLD,)
    assert record(OLD).entries_at(at(19.99)) == ()


def test_what_was_entered_later_was_not_known_then():
    later = msgspec.structs.replace(NEW, entered_at=at(40))
    whole = record(OLD, later)
    assert whole.entries_at(at(50), known_by=at(39)) == (OLD,)
    assert whole.entries_at(at(50), known_by=at(40)) == (later,)
    assert whole.entries_at(at(50)) == (later,)


def test_ties_are_broken_by_id_whatever_the_order_of_entry():
    twin = an_entry("twin", Temperature(temperature_c=37), infant=INFANT, at_h=20)
    assert record(OLD, twin).entries_at(at(30)) == record(twin, OLD).entries_at(at(30))


def test_entries_about_the_parent_are_apart_from_those_about_an_infant():
    assert about([OLD, NOTE, NEW], INFANT.id) == (OLD, NEW)
    assert about([OLD, NOTE, NEW], None) == (NOTE,)
    assert about([OLD], an_id("stranger")) == ()


def test_every_kind_of_fact_is_listed_by_its_name():
    assert KINDS["weight"] is Weight
    assert KINDS["withdrawal"] is Withdrawal


def test_what_stands_is_listed_by_time_and_cut_at_an_instant():
    found = standing(record(NEW, NOTE, OLD).entries)
    assert found == (NOTE, NEW)
    assert [count_until(found, at(hours)) for hours in (4, 5, 19, 20)] == [0, 1, 1, 2]
