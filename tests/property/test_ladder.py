"""What holds of the ladder whatever is on the record: worse is never calmer, less is never settled, one speaks for all."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import uuid5

import msgspec
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from people import an_id
from suffice.assess.assessment import assess
from suffice.assess.ranking import tier_of
from suffice.assess.results import FamilyAssessment, Tier
from suffice.clinical.entry import (
    AnyFact,
    Basis,
    Birth,
    Entry,
    FeedCount,
    Infant,
    Record,
    Sign,
    Stool,
    Temperature,
    Weight,
    Wet,
)
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from sweeps import drawn

BORN_AT = datetime(2026, 3, 2, 4, 0, tzinfo=UTC)
ADA = Infant(id=an_id("Ada"), position=1)
BEA = Infant(id=an_id("Bea"), position=2)
BIRTH_G = 3400.0
TERMS = load().vocabularies["signs"]
OF_INFANT = sorted(key for key, term in TERMS.items() if term.about == "infant")
OF_PARENT = sorted(key for key, term in TERMS.items() if term.about == "parent")
LATER = timedelta(hours=1)

Seen = tuple[AnyFact, float]
"""What was seen, and how many hours before the end of the story."""


def an_entry(name: str, fact: AnyFact, at: datetime, infant: Infant | None) -> Entry:
    return Entry(
        id=uuid5(ADA.id, f"{name} {infant.position if infant else 0}"),
        fact=fact,
        basis=Basis.MEASURED,
        true_at=at,
        entered_at=at,
        entered_by="test",
        infant_id=infant.id if infant else None,
    )


BIRTH = Birth(
    zone="UTC", sex="female", gestation_days=275, birth_weight_g=BIRTH_G, mode="vaginal", multiple=1
)
GAINS = st.sampled_from([-20.0, 0.0, 8.0, 20.0, 32.0])
"""Grams a day from the lowest weight on."""


@st.composite
def facts_of_one(draw: st.DrawFn, age_h: float) -> list[Seen]:
    """A course of weights, mostly counted, with now and then a temperature or a sign."""
    gain, lost = draw(GAINS), draw(st.sampled_from([0.03, 0.06, 0.09, 0.11]))
    weighed = sorted(draw(st.sets(st.floats(12, age_h), max_size=5)))
    low_h = min(72.0, age_h)
    seen: list[Seen] = []
    for at_h in weighed:
        fallen = BIRTH_G * lost * min(at_h, low_h) / low_h
        risen = gain * max(at_h - low_h, 0.0) / 24
        weight_g = round(BIRTH_G - fallen + risen)
        if weight_g > 600:
            seen.append((Weight(weight_g=weight_g, clothing="naked"), age_h - at_h))
    if draw(st.integers(0, 3)):
        seen.append((Wet(count=draw(st.integers(2, 8)), over_h=24.0), draw(st.floats(0, 12))))
    if draw(st.integers(0, 3)):
        seen.append(
            (
                Stool(count=draw(st.integers(0, 5)), over_h=24.0, colour="yellow"),
                draw(st.floats(0, 12)),
            )
        )
    if draw(st.integers(0, 3)):
        seen.append((FeedCount(count=draw(st.integers(4, 11))), draw(st.floats(0, 12))))
    if not draw(st.integers(0, 4)):
        seen.append((Temperature(temperature_c=draw(st.floats(35, 39.5))), draw(st.floats(0, 12))))
    if not draw(st.integers(0, 4)):
        seen.append(
            (Sign(sign=draw(st.sampled_from(OF_INFANT)), present=True), draw(st.floats(0, 12)))
        )
    return seen


AGES_H = st.floats(24, 2400)


@st.composite
def stories(draw: st.DrawFn, infants: int = 1) -> tuple[Record, datetime]:
    """A family, and when it is asked about."""
    age_h = draw(AGES_H)
    as_of = BORN_AT + timedelta(hours=age_h) + LATER
    entries = []
    for one in (ADA, BEA)[:infants]:
        entries.append(an_entry("birth", BIRTH, BORN_AT, one))
        for number, (fact, ago_h) in enumerate(draw(facts_of_one(age_h))):
            at = as_of - LATER - timedelta(hours=min(ago_h, age_h))
            entries.append(an_entry(f"{number}", fact, at, one))
    if not draw(st.integers(0, 2)):
        sign = Sign(sign=draw(st.sampled_from(OF_PARENT)), present=True)
        entries.append(an_entry("of the parent", sign, as_of - LATER, None))
    members = (ADA, BEA)[:infants]
    return Record(family_id=an_id("family"), infants=members, entries=tuple(entries)), as_of


def asked(record: Record, as_of: datetime) -> FamilyAssessment:
    return assess(record, as_of, load(), Policy(zone="UTC"), engine=False)


def group_of(record: Record, as_of: datetime) -> Tier:
    return asked(record, as_of).rank.tier


def of_member(record: Record, member: Infant | None) -> Record:
    """The record as if nobody else were in it."""
    kept = {None, member.id} if member else {None}
    return msgspec.structs.replace(
        record,
        infants=(member,) if member else record.infants,
        entries=tuple(one for one in record.entries if one.infant_id in kept),
    )


@given(stories(infants=2))
@settings(max_examples=drawn(60), deadline=None)
def test_a_family_is_in_the_group_of_its_most_urgent_member(story: tuple[Record, datetime]) -> None:
    record, as_of = story
    whole = asked(record, as_of)
    found = [*whole.findings, *(one for infant in whole.infants for one in infant.findings)]
    assert whole.rank.tier == min(map(tier_of, found), default=Tier.SETTLED)
    assert whole.rank.tier <= min(group_of(of_member(record, one), as_of) for one in (ADA, BEA))


@given(
    stories(),
    st.one_of(
        st.builds(Sign, sign=st.sampled_from(OF_INFANT), present=st.just(True)),
        st.builds(Temperature, temperature_c=st.sampled_from([33.0, 35.2, 38.0, 38.6, 40.0])),
        st.builds(Stool, count=st.just(1), colour=st.sampled_from(["pale", "red"])),
    ),
)
@settings(max_examples=drawn(120), deadline=None)
def test_adding_what_is_wrong_never_makes_a_family_calmer(
    story: tuple[Record, datetime], worse: AnyFact
) -> None:
    record, as_of = story
    added = an_entry("worse", worse, as_of - timedelta(minutes=30), ADA)
    more = msgspec.structs.replace(record, entries=(*record.entries, added))
    assert group_of(more, as_of) <= group_of(record, as_of)


@given(stories(), st.integers(0, 20))
@settings(max_examples=drawn(120), deadline=None)
def test_losing_what_nothing_rests_on_never_settles_a_family(
    story: tuple[Record, datetime], which: int
) -> None:
    record, as_of = story
    whole = asked(record, as_of)
    assume(whole.rank.tier is not Tier.SETTLED)
    found = [*whole.findings, *(one for infant in whole.infants for one in infant.findings)]
    used = {one for finding in found if finding.level != "note" for one in finding.entry_ids}
    free = [one for one in record.entries if one.id not in used and not isinstance(one.fact, Birth)]
    assume(free)
    lost = free[which % len(free)]
    kept = tuple(one for one in record.entries if one is not lost)
    less = msgspec.structs.replace(record, entries=kept)
    assert group_of(less, as_of) is not Tier.SETTLED


@given(stories(), st.sampled_from(["sex", "gestation_days", "birth_weight_g", "mode"]))
@settings(max_examples=drawn(120), deadline=None)
def test_a_birth_fact_that_nobody_knows_never_settles_a_family(
    story: tuple[Record, datetime], unknown: str
) -> None:
    record, as_of = story
    assume(group_of(record, as_of) is not Tier.SETTLED)
    birth = msgspec.structs.replace(BIRTH, **{unknown: None})
    entries = tuple(
        msgspec.structs.replace(one, fact=birth) if isinstance(one.fact, Birth) else one
        for one in record.entries
    )
    assert group_of(msgspec.structs.replace(record, entries=entries), as_of) is not Tier.SETTLED
