"""A day is found once and kept; its clock lets nothing go on without end."""

from __future__ import annotations

from day_cases import NOBODY_FEEDS, UNIT
from suffice.care.plan_day import changes_of, schedule_of
from suffice.knowledge.store import load


def test_a_day_is_found_once() -> None:
    first = schedule_of(UNIT, load())
    assert first.is_possible
    assert schedule_of(UNIT, load()) is first


def test_changes_go_with_the_day() -> None:
    assert [one.makes_possible for one in changes_of(NOBODY_FEEDS, load())] == [True]
