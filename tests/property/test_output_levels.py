"""Worse news of diapers and feeds never calms, whatever was written down before and after it.

The levels are those of the content; what is asked here is their order.
"""

from __future__ import annotations

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

from spec.vignette import BORN_AT, ZONE, age_of, record_of
from suffice.assess.assessment import assess
from suffice.knowledge.policy import Policy
from suffice.knowledge.schema import LEVELS
from suffice.knowledge.store import load
from sweeps import drawn

CONTENT, POLICY = load(), Policy(zone=ZONE)
INFANT = "girl, 39+0, 3400 g, vaginal"
OF_OUTPUT = frozenset({"output", "milk", "feeding"})
CALM = len(LEVELS)


class Counted(msgspec.Struct, frozen=True):
    """A count as a consultant writes it."""

    kind: str
    age_h: int
    number: int
    over_h: int

    def __str__(self):
        return f"{self.age_h} h: {self.number} {self.kind} in {self.over_h} h"


counts = st.builds(
    Counted,
    kind=st.sampled_from(["wets", "stools"]),
    age_h=st.integers(24, 1200),
    number=st.integers(0, 8),
    over_h=st.sampled_from([8, 12, 18, 20, 24, 36, 48]),
)
histories = st.lists(counts, min_size=1, max_size=4)


def level_of(seen, age_h):
    """The place of the most urgent finding of wets, stools and feeds; the first is the worst."""
    written = "; ".join(str(one) for one in seen)
    record = record_of(INFANT, written)
    as_of = BORN_AT + age_of(f"{age_h} h")
    (infant,) = assess(record, as_of, CONTENT, POLICY, engine=False).infants
    levels = [one.level for one in infant.findings if one.topic in OF_OUTPUT]
    return min((LEVELS.index(one) for one in levels), default=CALM)


@settings(max_examples=drawn(150), deadline=None)
@given(histories, st.data(), st.integers(0, 200))
def test_fewer_diapers_never_lower_the_level(history, data, later_h):
    asked_at = max(one.age_h for one in history) + later_h
    place = data.draw(st.integers(0, len(history) - 1))
    fewer = data.draw(st.integers(0, history[place].number))
    worse = [*history]
    worse[place] = msgspec.structs.replace(history[place], number=fewer)
    assert level_of(worse, asked_at) <= level_of(history, asked_at)


@settings(max_examples=drawn(100), deadline=None)
@given(counts, st.integers(24, 48), st.integers(0, 48), st.integers(0, 100))
def test_as_many_in_a_longer_time_are_never_calmer(one, over_h, more_h, later_h):
    short = msgspec.structs.replace(one, over_h=over_h)
    long = msgspec.structs.replace(one, over_h=over_h + more_h)
    asked_at = one.age_h + later_h
    assert level_of([long], asked_at) <= level_of([short], asked_at)


@settings(max_examples=drawn(100), deadline=None)
@given(histories, st.integers(0, 100), st.integers(1, 2000))
def test_silence_never_lowers_the_level(history, soon_h, later_h):
    at = max(one.age_h for one in history) + soon_h
    assert level_of(history, at + later_h) <= level_of(history, at)


@settings(max_examples=drawn(60), deadline=None)
@given(st.integers(3, 12), st.integers(0, 9), st.integers(48, 600))
def test_fewer_feeds_of_a_full_day_never_lower_the_level(number, more, age_h):
    def seen(count):
        return [f"{age_h} h: {count} feeds in 24 h"]

    assert level_of(seen(number), age_h) <= level_of(seen(number + more), age_h)
