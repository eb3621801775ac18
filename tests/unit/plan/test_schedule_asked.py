"""What of a record goes into a day: the last plan of each infant, and the parent's day as said last."""

from __future__ import annotations

from people import an_entry, an_id
from plan_case import BIRTH, INFANT, WELL, an_infants, asked
from suffice.clinical.entry import Infant, ParentDay, Plan
from suffice.plan.schedule_asked import case_of, parent_day_of

OTHER = Infant(id=an_id("other"), position=2)
PLAN = Plan(move="first", feeds_count=8, gap_day_h=3.0, sessions_count=5)


def a_day(name: str, day: ParentDay, at_h: float) -> object:
    return an_entry(name, day, infant=None, at_h=at_h)


def test_the_day_that_was_said_last_counts() -> None:
    days = [
        an_entry("one", ParentDay(sleep_h=4), infant=None, at_h=24),
        an_entry("two", ParentDay(sleep_h=6), infant=None, at_h=48),
    ]
    assert parent_day_of([BIRTH, *days]) == ParentDay(sleep_h=6)
    assert parent_day_of([BIRTH]) is None


def test_one_infant_is_fed_by_its_plan() -> None:
    case = case_of(asked(*WELL, day=21.5, engine=False), PLAN, [INFANT.id])
    assert (case.feeds_count, case.sessions_count, case.breast_minutes) == (8, 5, 30)


def test_the_other_twin_brings_its_last_plan_or_is_fed_alike() -> None:
    last = an_entry(
        "plan of the other", Plan(move="hold", feeds_count=10, at_breast="not now"), infant=OTHER,
        at_h=24,
    )  # fmt: skip
    alike = case_of(asked(*WELL, day=21.5, engine=False), PLAN, [INFANT.id, OTHER.id])
    assert (alike.feeds_count, alike.breast_minutes) == (8, 60)
    both = case_of(asked(*WELL, last, day=21.5, engine=False), PLAN, [INFANT.id, OTHER.id])
    assert (both.feeds_count, both.breast_minutes, both.milk_minutes) == (10, 30, 25)


def test_a_plan_of_the_infant_itself_does_not_count_beside_the_new_one() -> None:
    old = an_infants("old plan", Plan(move="first", feeds_count=12), 10)
    case = case_of(asked(*WELL, old, day=21.5, engine=False), PLAN, [INFANT.id])
    assert case.feeds_count == 8
