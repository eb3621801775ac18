"""From a record: the infant, what stands of it, and the problems that count."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

from people import BORN_AT, an_entry, an_id
from plan_case import INFANT, SLOW, an_infants
from suffice.assess.assessment import assess
from suffice.clinical.entry import Entry, ProblemStatus, Record
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.plan.asked import asked_of


def problems(*entries: Entry) -> frozenset[str]:
    record = Record(family_id=an_id("family"), infants=(INFANT,), entries=(*SLOW, *entries))
    as_of = BORN_AT + timedelta(days=15.2)
    assessed = assess(record, as_of, load(), Policy(), engine=False)
    found = asked_of(record, assessed, INFANT.id, load(), ZoneInfo("UTC"))
    assert found.as_of == as_of
    assert found.infant.infant_id == INFANT.id
    return found.problems


def test_what_is_named_counts() -> None:
    assert "slow_gain" in problems()


def test_what_was_called_settled_or_none_does_not() -> None:
    for status in ("settled", "not so"):
        decided = ProblemStatus(problem="slow_gain", status=status)  # type: ignore[arg-type]
        assert "slow_gain" not in problems(an_infants("d", decided, 15))


def test_what_was_called_open_counts_though_nothing_points_to_it() -> None:
    decided = an_entry(
        "d", ProblemStatus(problem="engorgement", status="better"), infant=None, at_h=300
    )
    assert "engorgement" in problems(decided)
    over = an_entry(
        "e", ProblemStatus(problem="engorgement", status="settled"), infant=None, at_h=310
    )
    assert "engorgement" not in problems(decided, over)
