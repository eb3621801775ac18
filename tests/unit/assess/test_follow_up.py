"""Each deadline of follow_up does something: another value gives another answer on the same record."""

from __future__ import annotations

from datetime import timedelta
from functools import cache

import pytest

from people import BORN_AT, an_entry, an_id
from suffice.assess.assessment import assess
from suffice.clinical.entry import Birth, Contact, Feed, Infant, Record, Setting, Stool, Weight, Wet
from suffice.clinical.units import HOURS_PER_DAY
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

CONTENT = load()
KEYS = sorted(key for key in CONTENT.flat if key.startswith("follow_up."))
INFANT = Infant(id=an_id("infant"), position=1)
WEIGHTS = {2: 3300.0, 3.5: 3520.0, 6.6: 3350.0, 11: 3420.0, 17: 3470.0, 23: 3650.0, 95: 6000.0}
"""By day. At birth weight for an instant on day 4, which is no return; back for good on day 23."""
DAYS = (*(half / 2 for half in range(2, 26)), *range(13, 36), *range(38, 130, 4))
ENTRIES = (
    an_entry(
        "birth",
        Birth(zone="UTC", sex="male", gestation_days=276, birth_weight_g=3500.0, mode="vaginal"),
        infant=INFANT,
    ),
    *(
        an_entry(f"w{day}", Weight(weight_g=grams, clothing="naked"), infant=INFANT, at_h=24 * day)
        for day, grams in WEIGHTS.items()
    ),
    an_entry("wets", Wet(count=5, over_h=24.0), infant=INFANT, at_h=100),
    an_entry("stools", Stool(count=4, over_h=24.0), infant=INFANT, at_h=100),
    *(
        an_entry(f"feed{hour}", Feed(milk="breast"), infant=INFANT, at_h=hour)
        for hour in range(76, 101, 3)
    ),
    an_entry(
        "contact",
        Contact(setting=Setting.CLINIC, next_due_at=BORN_AT + timedelta(days=30)),
        infant=None,
        at_h=HOURS_PER_DAY * 23,
    ),
)
RECORD = Record(family_id=an_id("family"), infants=(INFANT,), entries=ENTRIES)


def course(content):
    """What stands on each day of four months, in which group, and how late the contact is."""
    told = []
    for day in DAYS:
        family = assess(RECORD, BORN_AT + timedelta(days=day), content, Policy(), engine=False)
        codes = {one.code for one in family.infants[0].findings}
        rank = family.rank
        told.append((day, rank.tier, rank.urgency.overdue_h, frozenset(codes)))
    return told


@cache
def as_it_is():
    return course(CONTENT)


def test_every_deadline_is_tried():
    assert len(KEYS) >= 12


@pytest.mark.parametrize("key", KEYS)
def test_another_deadline_gives_another_answer(key):
    constant = CONTENT.flat[key]
    others = [end for end in (constant.low, constant.high) if end not in {None, constant.value}]
    assert others
    assert any(course(CONTENT.with_overrides({key: end})) != as_it_is() for end in others)
