"""What must hold of every assessment, whatever is on the record."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from uuid import uuid5

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

from people import an_id
from strategies import records
from suffice.assess.assessment import assess
from suffice.assess.results import FamilyAssessment, Tier
from suffice.clinical.entry import (
    Basis,
    Birth,
    Entry,
    Feed,
    Infant,
    Record,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.record.values import ORDER_LENGTH
from sweeps import drawn

BORN_AT = datetime(2026, 3, 29, 0, 40, tzinfo=UTC)
"""Twenty minutes before the clocks of Europe went forward."""
INFANT = Infant(id=an_id("infant"), position=1)
AGES_H = st.floats(0.1, 4000)
SEEN = st.one_of(
    st.builds(
        Weight,
        weight_g=st.floats(400, 12000),
        clothing=st.sampled_from([None, "naked", "clothed"]),
    ),
    st.builds(Wet, count=st.integers(0, 9), over_h=st.sampled_from([None, 12.0, 24.0])),
    st.builds(
        Stool,
        count=st.integers(0, 9),
        over_h=st.sampled_from([None, 24.0]),
        colour=st.sampled_from([None, "black", "yellow", "pale"]),
    ),
    st.builds(Temperature, temperature_c=st.floats(34, 41)),
    st.builds(
        TestWeight,
        before_g=st.floats(2000, 5000),
        after_g=st.floats(2000, 5000),
        minutes=st.none() | st.floats(1, 60),
        same_clothes=st.sampled_from([None, True, False]),
    ),
    st.builds(
        Feed,
        milk=st.sampled_from(["breast", "expressed", "formula"]),
        volume_ml=st.none() | st.floats(0, 200),
    ),
)
BIRTHS = st.builds(
    Birth,
    zone=st.just("Europe/Madrid"),
    sex=st.sampled_from([None, "male", "female"]),
    gestation_days=st.none() | st.integers(168, 300),
    birth_weight_g=st.none() | st.floats(500, 5500),
    mode=st.sampled_from([None, "vaginal", "caesarean"]),
)


def an_observation(number, fact, age_h):
    at = BORN_AT + timedelta(hours=age_h)
    return Entry(
        id=uuid5(INFANT.id, f"{number}"),
        fact=fact,
        basis=Basis.MEASURED,
        true_at=at,
        entered_at=at,
        entered_by="test",
        infant_id=INFANT.id,
    )


@st.composite
def infants_seen(draw):
    seen = draw(st.lists(st.tuples(SEEN, AGES_H), max_size=14))
    entries = [an_observation("birth", draw(BIRTHS), 0)]
    entries += [an_observation(number, fact, age_h) for number, (fact, age_h) in enumerate(seen)]
    return Record(family_id=an_id("family"), infants=(INFANT,), entries=tuple(entries))


def assessed(record, *, zone="Europe/Madrid", later_h=1.0) -> FamilyAssessment:
    last = max((entry.true_at for entry in record.entries), default=BORN_AT)
    as_of = last + timedelta(hours=later_h)
    return assess(record, as_of, load(), Policy(zone=zone), engine=False)


def numbers_of(result):
    """All that is computed, without the instants that sentences tell."""
    return [
        (
            {name: (figure.value, figure.low, figure.high) for name, figure in one.figures.items()},
            sorted(one.not_computed),
            [(finding.code, finding.level, finding.excess_fraction) for finding in one.findings],
            [(row.weight_g, row.z, row.change_percent) for row in one.weights],
        )
        for one in result.infants
    ]


def check(result):
    for infant in result.infants:
        for name, figure in infant.figures.items():
            for number in (figure.value, figure.low, figure.high):
                assert number is None or math.isfinite(number), name
            assert figure.working.formula
            assert name not in infant.not_computed
        for row in infant.weights:
            assert row.z is None or math.isfinite(row.z)
    assert all(math.isfinite(number) for number in result.rank.order)
    assert len(result.rank.order) == ORDER_LENGTH
    assert result.rank.reason
    assert result.valid_until > result.as_of


@given(records())
@settings(max_examples=drawn(60), deadline=None)
def test_any_record_that_fits_together_can_be_assessed(record):
    check(assessed(record))


@given(infants_seen())
@settings(max_examples=drawn(150), deadline=None)
def test_every_figure_is_finite_has_its_working_and_is_either_there_or_explained(record):
    check(assessed(record))


@given(infants_seen(), st.randoms(use_true_random=False))
@settings(max_examples=drawn(60), deadline=None)
def test_the_order_of_entries_does_not_matter(record, random):
    shuffled = list(record.entries)
    random.shuffle(shuffled)
    other = msgspec.structs.replace(record, entries=tuple(shuffled))
    assert assessed(other) == assessed(record)


@given(infants_seen(), st.integers(-5000, 5000))
@settings(max_examples=drawn(60), deadline=None)
def test_moving_everything_in_time_changes_no_number(record, hours):
    moved = tuple(
        msgspec.structs.replace(
            entry,
            true_at=entry.true_at + timedelta(hours=hours),
            entered_at=entry.entered_at + timedelta(hours=hours),
        )
        for entry in record.entries
    )
    here, there = assessed(record), assessed(msgspec.structs.replace(record, entries=moved))
    assert numbers_of(there) == numbers_of(here)
    assert (there.rank.tier, there.rank.order) == (here.rank.tier, here.rank.order)


@given(infants_seen(), st.sampled_from(["UTC", "America/New_York", "Asia/Kathmandu"]))
@settings(max_examples=drawn(60), deadline=None)
def test_the_clinics_time_zone_changes_no_number(record, zone):
    assert numbers_of(assessed(record, zone=zone)) == numbers_of(assessed(record))


@given(infants_seen())
@settings(max_examples=drawn(60), deadline=None)
def test_a_fever_puts_any_young_infant_among_the_emergencies_whatever_else_is_known(record):
    young = tuple(e for e in record.entries if e.true_at < BORN_AT + timedelta(days=80))
    fever = an_observation("fever", Temperature(temperature_c=39.0), 80 * 24)
    result = assessed(msgspec.structs.replace(record, entries=(*young, fever)))
    assert result.rank.tier is Tier.NOW
    emergencies = [row for row in load().flags if row.level == "emergency"]
    assert result.rank.order[0] < len(emergencies)


@given(infants_seen(), st.floats(0.2, 200))
@settings(max_examples=drawn(80), deadline=None)
def test_until_it_expires_time_alone_changes_no_finding(record, hours):
    now = assessed(record, later_h=0.0)
    later = assessed(record, later_h=hours)
    if later.as_of < now.valid_until:
        assert [one[2] for one in numbers_of(later)] == [one[2] for one in numbers_of(now)]
        assert later.rank.tier is now.rank.tier
