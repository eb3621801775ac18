"""Observations as finds: the latest of a side decides, a look counts for its contact, history stays."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid5

from suffice.assess.problems.observed import latest_contact, observed_finds
from suffice.assess.rules.table import Found
from suffice.clinical.entry import Basis, Entry, Observation
from suffice.knowledge.store import load

CONTENT = load()
NOW = datetime(2026, 3, 9, 12, tzinfo=UTC)
FIRST, SECOND = UUID(int=1), UUID(int=2)


def entry(what, answer, *, side=None, contact=SECOND, hours=1.0):
    fact = Observation(what=what, answer=answer, side=side, contact_id=contact)
    at = NOW - timedelta(hours=hours)
    return Entry(id=uuid5(FIRST, f"{fact}{at}"), fact=fact, basis=Basis.OBSERVED, true_at=at,
                 entered_at=at, entered_by="test")  # fmt: skip


def finds(*entries, contact=SECOND):
    found = observed_finds(entries, CONTENT, NOW, contact)
    return {
        key: [(one.answers, one.number, one.side) for one in those] for key, those in found.items()
    }


def test_the_latest_of_a_side_decides_and_both_count_for_each():
    assert finds(
        entry("gape", "short", side="left", hours=2), entry("gape", "clear", side="left")
    ) == {"gape": [(("clear",), None, "left")]}
    assert finds(entry("gape", "short", side="both")) == {
        "gape": [(("short",), None, "left"), (("short",), None, "right")]
    }
    later = finds(entry("gape", "short", side="left", hours=2), entry("gape", "clear"))
    assert later == {"gape": [(("clear",), None, "")]}


def test_what_was_left_open_is_not_known():
    assert finds(entry("chin", "yes", hours=2), entry("chin", None)) == {}


def test_a_look_counts_for_its_contact_and_history_for_all():
    earlier = (
        entry("chin", "no", contact=FIRST, hours=30),
        entry("births", "2", contact=FIRST, hours=30),
    )
    assert finds(*earlier) == {"births": [((), 2.0, "")]}
    assert finds(*earlier, contact=FIRST).keys() == {"births", "chin"}


def test_a_look_of_no_contact_counts_for_a_day():
    assert finds(entry("chin", "no", contact=None, hours=23)).keys() == {"chin"}
    assert finds(entry("chin", "no", contact=None, hours=24)) == {}


def test_what_the_vocabulary_does_not_know_says_nothing():
    assert finds(entry("gone_word", "yes"), entry("gape", "gone_choice")) == {}
    assert finds(entry("pain_end", "much"), entry("pain_start", "inf")) == {}
    assert finds(entry("nipple_harm", "crack|gone_choice")) == {
        "nipple_harm": [(("crack",), None, "")]
    }
    assert isinstance(observed_finds([entry("chin", "no")], CONTENT, NOW, SECOND)["chin"][0], Found)


def test_the_latest_contact_is_that_of_the_latest_observation_with_one():
    entries = (
        entry("chin", "no", contact=FIRST, hours=5),
        entry("chin", "no"),
        entry("chin", "no", contact=None),
    )
    assert latest_contact(entries) == SECOND
    assert latest_contact(()) is None
