"""An invented infant for the tests of plans, and what is known of it as of a day."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

from people import BORN_AT, an_entry, an_id
from suffice.assess.assessment import assess
from suffice.clinical.entry import (
    Birth,
    Entry,
    Fact,
    FeedCount,
    Infant,
    Record,
    Stool,
    TestWeight,
    Weight,
    Wet,
)
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.plan.known import Asked
from suffice.plan.propose import Proposal, propose

INFANT = Infant(id=an_id("infant"), position=1)
BIRTH = an_entry(
    "birth",
    Birth(zone="UTC", sex="male", gestation_days=276, birth_weight_g=3500.0, mode="vaginal"),
    infant=INFANT,
)
LATE_PRETERM = an_entry(
    "birth", Birth(zone="UTC", gestation_days=248, birth_weight_g=2600.0), infant=INFANT
)


def an_infants(name: str, fact: Fact, day: float) -> Entry:
    return an_entry(f"{name}{day}", fact, infant=INFANT, at_h=24 * day)  # type: ignore[arg-type]


def a_weight(grams: float, day: float) -> Entry:
    return an_infants("w", Weight(weight_g=grams), day)


WELL = (BIRTH, a_weight(3300, 3), a_weight(3420, 7), a_weight(3900, 21))
SLOW = (BIRTH, a_weight(3200, 3), a_weight(3220, 7), a_weight(3260, 12), a_weight(3300, 15))
WEIGHED = tuple(
    an_infants("t", TestWeight(before_g=3300, after_g=3335), 14.2 + n / 8) for n in range(8)
)


def asked(
    *entries: Entry, day: float, problems: tuple[str, ...] = (), engine: bool = True
) -> Asked:
    record = Record(family_id=an_id("family"), infants=(INFANT,), entries=entries)
    as_of = BORN_AT + timedelta(days=day)
    assessed = assess(record, as_of, load(), Policy(), engine=engine)
    return Asked(
        infant=assessed.infants[0],
        of_parent=assessed.findings,
        entries=record.entries_at(as_of),
        as_of=as_of,
        content=load(),
        zone=ZoneInfo("UTC"),
        problems=frozenset(problems),
    )


def proposed(*entries: Entry, day: float, problems: tuple[str, ...] = ()) -> Proposal:
    return propose(asked(*entries, day=day, problems=problems))


def counts(day: float) -> tuple[Entry, ...]:
    """Wets, stools and feeds of a day, as many as are expected."""
    return (
        an_infants("wet", Wet(count=7, over_h=24), day),
        an_infants("stool", Stool(count=4, over_h=24), day),
        an_infants("feeds", FeedCount(count=10), day),
    )
