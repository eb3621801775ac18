"""Nothing of an assessment changes by time alone before the instant until which it says it holds."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from uuid import NAMESPACE_OID, uuid5

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

from spec.vignette import BORN_AT, age_of, entry, fact_of
from suffice.assess.assessment import assess
from suffice.assess.results import FamilyAssessment, Finding
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical.entry import Birth, Infant, Record
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from sweeps import drawn

NOW = datetime(2026, 3, 20, 9, 30, tzinfo=UTC)
A_MINUTE = timedelta(minutes=1)
SEEN = (
    "sign limp", "sign jaundice", "2850 g", "2790 g", "2500 g", "2600 g clothed", "4 wets in 24 h",
    "1 wets in 24 h", "0 wets in 24 h", "2 stools in 24 h", "wet with urates", "38.5 °C",
    "answer physician", "handed over physician", "answer hospital", "feed",
    "known jaundice",
)  # fmt: skip


@cache
def demo() -> tuple[Record, ...]:
    return tuple(Families(scenario(), now=NOW, entered_by="demo").records())


@st.composite
def twins(draw) -> Record:
    two = [Infant(id=uuid5(NAMESPACE_OID, name), position=n) for n, name in enumerate("ab", 1)]
    birth = Birth(zone="UTC", birth_weight_g=2900.0)
    entries = [entry(two[0], birth, BORN_AT, 100 + n, about=one) for n, one in enumerate(two)]
    parts = st.tuples(st.sampled_from(two), st.integers(8, 300), st.sampled_from(SEEN))
    for number, (who, age_h, what) in enumerate(draw(st.lists(parts, max_size=7))):
        fact, device = fact_of(what)
        at = BORN_AT + age_of(f"{age_h} h")
        entries.append(entry(two[0], fact, at, number, device, who))
    return Record(
        family_id=uuid5(NAMESPACE_OID, "twins"), infants=tuple(two), entries=tuple(entries)
    )


def asked(record: Record, as_of: datetime) -> FamilyAssessment:
    return assess(record, as_of, load(), Policy(zone="UTC"), engine=False)


def _finding(one: Finding) -> tuple[object, ...]:
    taken = one.handed_over
    return (one.code, one.level, None if taken is None else (taken.is_late, taken.holds))


def what_counts(found: FamilyAssessment) -> tuple[object, ...]:
    """The group, who stands where in it but for age and waiting, and every finding."""
    urgency = found.rank.urgency
    return (
        found.rank.tier,
        (urgency.is_taken, urgency.due_h, urgency.rule_place, urgency.flag_count),
        *(tuple(_finding(one) for one in infant.findings) for infant in found.infants),
        tuple(_finding(one) for one in found.findings),
    )


def holds(record: Record, as_of: datetime, share: float) -> None:
    entries = tuple(one for one in record.entries if one.true_at <= as_of)
    record = msgspec.structs.replace(record, entries=entries)
    before = asked(record, as_of)
    minutes = (before.valid_until - as_of) // A_MINUTE
    for then in (as_of + int(share * minutes) * A_MINUTE, before.valid_until - A_MINUTE):
        if as_of < then < before.valid_until:
            assert what_counts(asked(record, then)) == what_counts(before), (as_of, then)


@settings(max_examples=drawn(60), deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 14 * 24 * 60), st.floats(0, 1))
def test_of_the_families_of_the_demo(which: int, minutes_ago: int, share: float) -> None:
    records = demo()
    holds(records[which % len(records)], NOW - minutes_ago * A_MINUTE, share)


@settings(max_examples=drawn(60), deadline=None)
@given(twins(), st.integers(10 * 60, 14 * 24 * 60), st.floats(0, 1))
def test_of_twins(record: Record, minutes: int, share: float) -> None:
    holds(record, BORN_AT + minutes * A_MINUTE, share)
