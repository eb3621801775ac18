"""The table of single changes: what each buys, the one that buys most first."""

from __future__ import annotations

import msgspec

from day_cases import ALONE, NOBODY_FEEDS, PARAMETERS, a_case
from suffice.clinical.reading.hours import hours_of
from suffice.plan.schedule import Schedule, scheduled
from suffice.plan.schedule_changes import _feed_minutes, changes


def test_one_feed_by_a_helper_buys_what_fewer_sessions_do_not() -> None:
    found = changes(scheduled(ALONE, PARAMETERS), PARAMETERS)
    by_name = {str(one.what): one for one in found}
    assert str(found[0].what).startswith("one feed given by a helper between 2")
    assert found[0].more_sleep_minutes == 300 - 135
    assert by_name["4 sessions fewer"].more_sleep_minutes == 0
    assert by_name["4 sessions fewer"].fewer_minutes == 100
    assert by_name["at the breast 20 min a feed at most"].fewer_minutes == 90
    gap = next(one for name, one in by_name.items() if "longest gap" in name)
    assert gap.more_sleep_minutes == 60
    assert "if the infant may" in str(gap.what)


def test_where_all_of_it_fits_nothing_is_offered() -> None:
    case = a_case(sessions_count=0, removal_gap_minutes=None, sleep_minutes=120)
    assert changes(Schedule(case=case), PARAMETERS) == ()


def test_what_makes_a_day_possible_comes_first() -> None:
    found = changes(scheduled(NOBODY_FEEDS, PARAMETERS), PARAMETERS)
    assert [str(one.what) for one in found] == ["a helper for the feeds while away"]
    assert found[0].makes_possible


def test_an_hour_at_which_somebody_helps_is_not_offered_again() -> None:
    case = a_case(helpers=hours_of("22-2"))
    gave = Schedule(case=case, gave=("something",))
    said = [str(one.what) for one in changes(gave, PARAMETERS)]
    assert not any("between 23:00" in one or "between 01:00" in one for one in said)


def test_an_infant_fed_by_others_has_no_feeds_to_change() -> None:
    case = a_case(feeds_count=0, milk_feeds_count=0, sleep_minutes=780)
    found = changes(scheduled(case, PARAMETERS), PARAMETERS)
    assert all("feed" not in str(one.what) for one in found)


def test_what_a_feed_takes_of_the_parent() -> None:
    assert _feed_minutes(a_case(at_breast="not now")) == 25
    assert _feed_minutes(a_case(milk_feeds_count=0)) == 30
    assert _feed_minutes(a_case()) == 30 + 15


def test_what_changes_nothing_is_not_offered() -> None:
    """No session fewer where there are fewer, no shorter feed where it is as short; and the helper's
    hours that buy no sleep are left out."""
    case = a_case(
        sessions_count=1, breast_minutes=20.0, helpers=hours_of("0-24"), sleep_minutes=780
    )
    offered = [str(one.what) for one in changes(scheduled(case, PARAMETERS), PARAMETERS)]
    assert not any("fewer" in one or "at the breast" in one for one in offered)


def test_a_session_that_gave_way_saves_no_minute() -> None:
    """'4 sessions fewer: 1 h 40 less' stood where one of the eight was not on the clock."""
    asked = scheduled(ALONE, PARAMETERS)
    drawn = sum(one.what == "express" for one in asked.acts)
    for kept in (drawn, 5, 0):
        sessions = [one for one in asked.acts if one.what == "express"]
        acts = tuple(
            one for one in asked.acts if one.what != "express" or sessions.index(one) < kept
        )
        found = changes(msgspec.structs.replace(asked, acts=acts), PARAMETERS)
        by_name = {str(one.what): one for one in found}
        fewer = by_name["4 sessions fewer"].fewer_minutes if kept > 4 else None
        assert fewer == ((kept - 4) * 25 if kept > 4 else None)
        assert ("4 sessions fewer" in by_name) == (kept > 4)


def test_no_helper_is_offered_for_a_feed_at_a_breast_that_is_to_be_relieved() -> None:
    case = a_case(sessions_count=0, removal_gap_minutes=None, keeps_breast=True, sleep_minutes=600)
    said = [str(one.what) for one in changes(scheduled(case, PARAMETERS), PARAMETERS)]
    assert said
    assert not any("helper" in one for one in said)
