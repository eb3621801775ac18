"""From plans and a parent's day to what is fitted into a day."""

from __future__ import annotations

import msgspec
import pytest

from day_cases import PARAMETERS
from suffice.clinical.entry import ParentDay, Plan
from suffice.clinical.reading.hours import hours_of
from suffice.plan.schedule_case import DayCase, day_case, least_minutes

PLAN = Plan(
    move="first",
    feeds_count=9,
    gap_day_h=3.0,
    gap_night_h=4.0,
    at_breast="every feed",
    supplement_ml_per_day=270.0,
    supplement_feeds_count=9,
    supplement_ml=30.0,
    milk="own, donor, formula",
    express_for="build",
    sessions_count=8,
    session_minutes=15.0,
)
BOTTLES = Plan(move="hold", feeds_count=8, at_breast="not now", milk="own", gap_day_h=3.0)
OPEN = Plan(move="first")


def case_of(*plans: Plan, day: ParentDay | None = None, age_d: float = 10.0) -> DayCase:
    return day_case(plans, day, age_d=age_d, parameters=PARAMETERS)


def test_a_plan_is_taken_as_it_is_with_usual_hours_where_nobody_asked() -> None:
    case = case_of(PLAN)
    assert (case.feeds_count, case.milk_feeds_count, case.sessions_count) == (9, 9, 8)
    assert (case.gap_day_minutes, case.gap_night_minutes) == (180, 240)
    assert (case.breast_minutes, case.milk_minutes, case.session_minutes) == (30, 15, 25)
    assert (case.is_sleep_wished, case.sleep_minutes) == (False, 300)
    assert [str(one) for one in case.sleep] == ["20:00-10:00"]
    assert case.removal_gap_minutes == 300
    assert not case.is_own_milk
    assert least_minutes(case) == 9 * 45 + 8 * 25 + 30


def test_the_parents_day_takes_the_place_of_what_is_usual() -> None:
    day = ParentDay(
        sleep_h=6, sleep_between="22-8", away="9-12", expresses_away=True, helpers="20-24"
    )
    case = case_of(PLAN, day=day)
    assert (case.is_sleep_wished, case.sleep_minutes) == (True, 360)
    assert (case.sleep, case.away) == (hours_of("22-8"), hours_of("9-12"))
    assert (case.helpers, case.expresses_away) == (hours_of("20-24"), True)


def test_after_two_weeks_the_longest_time_between_removals_is_longer() -> None:
    assert case_of(PLAN, age_d=20).removal_gap_minutes == 360
    assert case_of(BOTTLES).removal_gap_minutes is None


def test_a_plan_that_leaves_the_gaps_open_is_drawn_with_usual_ones() -> None:
    case = case_of(OPEN)
    assert (case.is_woken, case.gap_day_minutes, case.gap_night_minutes) == (False, 300, 300)
    assert (case.feeds_count, case.at_breast, case.is_own_milk) == (8, "every feed", True)
    assert (case.milk_feeds_count, case.cleaning_minutes) == (0, 0)


@pytest.mark.parametrize(("age_d", "minutes"), [(30, 300), (100, 330), (150, 360), (200, 390)])
def test_an_open_gap_is_drawn_longer_for_an_older_infant(age_d: float, minutes: int) -> None:
    assert case_of(OPEN, age_d=age_d).gap_night_minutes == minutes


def test_a_night_without_a_gap_of_its_own_has_that_of_the_day() -> None:
    case = case_of(BOTTLES)
    assert (case.gap_day_minutes, case.gap_night_minutes) == (180, 180)
    only_night = case_of(Plan(move="first", gap_night_h=4.0))
    assert (only_night.gap_day_minutes, only_night.gap_night_minutes) == (240, 240)


def test_an_infant_that_is_not_at_the_breast_takes_bottles_at_every_feed() -> None:
    case = case_of(BOTTLES)
    assert (case.at_breast, case.milk_feeds_count) == ("not now", 8)
    assert least_minutes(case) == 8 * 25 + 30


def test_an_infant_on_a_unit_is_fed_there() -> None:
    case = case_of(PLAN, day=ParentDay(is_on_unit=True))
    assert (case.feeds_count, case.milk_feeds_count, case.sessions_count) == (0, 0, 8)


@pytest.mark.parametrize(("is_together", "breast", "short"), [(True, 40, 30), (False, 60, 40)])
def test_twins_share_the_day_and_one_production(
    is_together: bool, breast: float, short: float
) -> None:
    other = Plan(
        move="first", feeds_count=8, gap_day_h=2.5, sessions_count=6, at_breast="some feeds"
    )
    case = case_of(PLAN, other, day=ParentDay(feeds_together=is_together))
    assert (case.feeds_count, case.sessions_count, case.at_breast) == (9, 8, "some feeds")
    assert case.gap_day_minutes == case.gap_night_minutes == 150
    assert (case.breast_minutes, case.short_breast_minutes) == (breast, short)
    # Only one of them is given milk after the breast.
    assert case.milk_minutes == 15


def test_of_twins_one_at_the_breast_and_one_with_bottles_both_are_fed_at_a_time() -> None:
    case = case_of(PLAN, BOTTLES, day=ParentDay())
    assert (case.at_breast, case.milk_feeds_count) == ("every feed", 9)
    assert (case.breast_minutes, case.milk_minutes, case.bottle_minutes) == (30, 40, 50)


def test_hours_that_nobody_can_read_are_not_guessed() -> None:
    with pytest.raises(ValueError, match="soon"):
        case_of(PLAN, day=ParentDay(helpers="soon"))


def test_who_is_to_be_relieved_is_not_replaced_at_the_breast() -> None:
    relieved = msgspec.structs.replace(PLAN, express_for="relieve", sessions_count=None)
    assert case_of(relieved).keeps_breast
    assert not case_of(PLAN).keeps_breast
