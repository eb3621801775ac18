"""A day on the clock holds no less milk than its plan, added up from the printed clock."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from day_cases import PARAMETERS, a_case
from plan_case import BIRTH, SLOW, WEIGHED, WELL, a_weight, asked
from schedule_checker import faults
from suffice.clinical.entry import Plan
from suffice.clinical.reading.hours import hours_of
from suffice.plan.need import no_less
from suffice.plan.schedule import scheduled
from suffice.plan.schedule_asked import milk_of_day
from suffice.plan.schedule_case import DayCase, FeedMilk

MILK = FeedMilk(day_ml=560.0, breast_ml=41.875, milk_ml=45.0, bottle_ml=70.0)
"""A need of 560 mL: 335 mL at eight feeds at the breast, and 45 mL after five of them."""
SOME = Plan(
    move="first",
    feeds_count=8,
    at_breast="every feed",
    supplement_ml=45,
    supplement_feeds_count=5,
    supplement_ml_per_day=225,
)


def some_milk(**more: Any) -> DayCase:
    """Extra milk at five of eight feeds, and a helper who gives whole feeds at night."""
    return a_case(
        feeds_count=8, milk_feeds_count=5, sessions_count=0, removal_gap_minutes=None,
        helpers=hours_of("21-7"), sleep_minutes=480, milk=MILK, **more,
    )  # fmt: skip


def short(case: DayCase, milk: FeedMilk) -> list[str]:
    """What the checker says of the millilitres of the day that is found for a case."""
    acts = scheduled(case, PARAMETERS).acts
    assert acts
    return [one for one in faults(acts, msgspec.structs.replace(case, milk=milk)) if "mL" in one]


def test_a_bottle_in_place_of_breast_and_extra_milk_is_made_up_for_elsewhere() -> None:
    """Counted as one of the five, a helper's bottle of 70 mL replaced a feed of 87."""
    case = some_milk()
    assert short(msgspec.structs.replace(case, milk=None), MILK) != []
    assert short(case, MILK) == []


def test_that_milk_is_given_more_often_than_asked_is_said() -> None:
    found = scheduled(some_milk(), PARAMETERS)
    fed = [one for one in found.acts if one.what in {"milk", "bottle"}]
    assert any(one.what == "bottle" for one in fed)
    assert len(fed) > 5
    assert any(
        f"Milk is given at {len(fed)} feeds, where 5 are asked for" in str(one)
        for one in found.gave
    )


def test_the_checker_finds_a_day_that_is_short() -> None:
    case = some_milk()
    acts = scheduled(case, PARAMETERS).acts
    without = [one for one in acts if one.what != "milk"]
    assert any("mL less than the plan" in one for one in faults(without, case))


def test_milk_at_every_feed_leaves_the_clock_as_it_was() -> None:
    each = FeedMilk(day_ml=540.0, breast_ml=30.0, milk_ml=30.0, bottle_ml=60.0)
    case = a_case(helpers=hours_of("21-7"))
    assert (
        scheduled(msgspec.structs.replace(case, milk=each), PARAMETERS).acts
        == scheduled(case, PARAMETERS).acts
    )


# ---- what is known of it ---------------------------------------------------------------------


def test_without_a_weighed_day_the_breast_has_what_the_need_leaves() -> None:
    known = asked(*WELL, day=21.5, engine=False)
    need = no_less(known.need).per_day
    milk = milk_of_day(known, SOME)
    assert need is not None
    assert milk is not None
    assert milk.day_ml == pytest.approx(need.value)
    assert 8 * milk.breast_ml + 5 * milk.milk_ml == pytest.approx(need.value)
    assert milk.bottle_ml >= need.value / 8


def test_what_was_measured_at_the_breast_counts_and_a_plan_below_the_need_is_held_to_itself() -> (
    None
):
    known = asked(*SLOW, *WEIGHED, day=15.1)
    need = no_less(known.need).per_day
    small = msgspec.structs.replace(SOME, supplement_ml=10, supplement_ml_per_day=50)
    milk = milk_of_day(known, small)
    assert need is not None
    assert milk is not None
    assert milk.day_ml <= need.value
    assert milk.day_ml == pytest.approx(min(need.value, 8 * milk.breast_ml + 50))


def test_where_all_is_given_the_day_is_held_to_what_the_plan_gives() -> None:
    known = asked(*WELL, day=21.5, engine=False)
    bottles = msgspec.structs.replace(
        SOME, at_breast="not now", supplement_ml=60, supplement_feeds_count=8
    )
    milk = milk_of_day(known, bottles)
    assert milk is not None
    assert (milk.breast_ml, milk.bottle_ml) == (0.0, 60.0)
    assert milk.day_ml <= 480
    assert milk_of_day(known, msgspec.structs.replace(bottles, supplement_ml=None)) is None


@pytest.mark.parametrize("plan", [msgspec.structs.replace(SOME, feeds_count=None), SOME])
def test_in_the_first_days_or_without_feeds_nothing_is_held(plan: Plan) -> None:
    if plan.feeds_count:
        assert milk_of_day(asked(BIRTH, a_weight(3350, 1), day=1.5, engine=False), plan) is None
    else:
        assert milk_of_day(asked(*WELL, day=21.5, engine=False), plan) is None
