"""Milk on hand from the record: numbers, the one profile of a family, days of cover."""

from __future__ import annotations

from datetime import timedelta

import pytest

from people import BORN_AT, an_entry, an_id
from suffice.care.milk.on_hand import KEYS, number_of, on_hand, profile_of, where_of
from suffice.clinical.entry import (
    AnyFact,
    Birth,
    Contact,
    ContactStart,
    Entry,
    Infant,
    MilkMoved,
    MilkStored,
    Plan,
    Record,
    Setting,
)
from suffice.knowledge.store import load

FAMILY = an_id("family")
INFANT = Infant(id=an_id("infant"), position=1)
NOW = BORN_AT + timedelta(hours=200)


def entered(name: str, fact: AnyFact, at_h: float) -> Entry:
    infant = None if isinstance(fact, Contact) else INFANT
    return an_entry(name, fact, infant=infant, at_h=at_h)


def record(*entries: Entry) -> Record:
    return Record(family_id=FAMILY, infants=(INFANT,), entries=entries)


def stored(name: str, at_h: float, **fact: object) -> Entry:
    given = {"milk": "expressed", "volume_ml": 40.0, "place": "fridge"} | fact
    return entered(name, MilkStored(**given), at_h)


@pytest.mark.parametrize("where", list(KEYS))
def test_a_profile_is_filled_from_the_content(where) -> None:
    profile = profile_of(load(), where)
    assert profile.fridge.key == KEYS[where]["fridge"]


def test_a_family_goes_by_the_unit_while_its_last_contact_was_there() -> None:
    unit = entered("unit", Contact(setting=Setting.NEONATAL_UNIT), 10)
    home = entered("home", Contact(setting=Setting.HOME), 20)
    assert where_of(record(), NOW) == "home"
    assert where_of(record(unit), NOW) == "unit"
    assert where_of(record(unit, home), NOW) == "home"
    begun = entered("begun", ContactStart(place="neonatal unit"), 30)
    assert where_of(record(home, begun), NOW) == "unit", (
        "a contact that was begun there counted for nothing"
    )


def test_volume_and_cover_count_only_what_can_be_used() -> None:
    plan = entered("plan", Plan(move="first", supplement_ml_per_day=80), 199)
    entries = (
        stored("fresh", 190),
        stored("late", 10),
        stored("gone", 195),
        entered("move", MilkMoved(milk_id=stored("gone", 195).id, to="discarded"), 196),
        plan,
    )
    found = on_hand(record(*entries), INFANT.id, load(), now=NOW)
    assert [one.entry.id for one in found.containers] == [stored("fresh", 190).id]
    assert [one.entry.id for one in found.over] == [stored("late", 10).id]
    assert [one.entry.id for one in found.ended] == [stored("gone", 195).id]
    assert found.volume_ml == 40
    assert found.cover_d == 0.5


def test_milk_lasts_by_what_the_plan_of_the_first_day_has_come_to() -> None:
    born = an_entry("birth", Birth(zone="UTC", gestation_days=276), infant=INFANT)
    amounts = {"supplement_ml": 6, "supplement_most_ml": 10, "supplement_feeds_count": 8}
    plan = entered("plan", Plan(move="first", supplement_ml_per_day=48, **amounts), 20)
    milk = stored("milk", 70, volume_ml=180.0)
    found = on_hand(record(born, plan, milk), INFANT.id, load(), now=BORN_AT + timedelta(hours=75))
    assert found.cover_d == 0.5


def test_a_number_is_short_and_the_same_every_time() -> None:
    assert number_of(an_id("x")) == number_of(an_id("x"))
    assert len(number_of(an_id("x"))) == 5


def test_a_time_to_come_is_not_counted_yet() -> None:
    milk = stored("milk", 190)
    later = entered("move", MilkMoved(milk_id=milk.id, to="used"), 300)
    found = on_hand(record(milk, later), INFANT.id, load(), now=NOW)
    assert len(found.containers) == 1
