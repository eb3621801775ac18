"""Hours of a parent's day that cannot be: each has its message and names its field."""

from __future__ import annotations

import pytest

from people import an_entry
from suffice.clinical.entry import ParentDay
from suffice.clinical.parent_day import parent_day_problems
from suffice.clinical.plausibility import check_entry
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.knowledge.store import load

LIMITS = PlausibilityLimits.from_content(load().flat, load().series)


@pytest.mark.parametrize(
    ("day", "code", "where", "says"),
    [
        (
            ParentDay(helpers="evenings"),
            "HOURS-001",
            "helpers",
            "'evenings' cannot be read as hours of the clock.",
        ),
        (
            ParentDay(helpers="18-22, 20-24"),
            "HOURS-002",
            "helpers",
            "18:00-22:00 and 20:00-24:00 overlap, so it is not clear which hours are meant.",
        ),
        (
            ParentDay(sleep_h=9.0, away="6-3"),
            "HOURS-003",
            "away",
            "30 h of sleep and being away are more than the 24 h of a day.",
        ),
        (
            ParentDay(sleep_h=8.0, sleep_between="22-4"),
            "HOURS-004",
            "sleep_between",
            "8 h of sleep do not fit between those hours: in one piece there is room for 6 h.",
        ),
        (
            ParentDay(sleep_h=6.0, sleep_between="0-24", away="2-20"),
            None,
            "",
            "",
        ),
        (ParentDay(sleep_h=24.0, sleep_between="0-24"), None, "", ""),
        # Refused as an amount of sleep: nobody is away.
        (ParentDay(sleep_h=30.0), None, "", ""),
        (ParentDay(), None, "", ""),
    ],
)
def test_hours_that_cannot_be(day: ParentDay, code: str | None, where: str, says: str) -> None:
    found = parent_day_problems(day)
    assert [one.code for one in found] == ([code] if code else [])
    for one in found:
        assert one.where == where
        assert f"{one.what} {one.why}" == says


def test_a_wish_of_no_sleep_is_refused_and_one_of_two_hours_is_asked_about() -> None:
    found = check_entry(an_entry("day", ParentDay(sleep_h=0.0), infant=None), (), LIMITS)
    assert [(one.code, one.where, one.doubtful) for one in found] == [
        ("VALUE-001", "sleep_h", False)
    ]
    assert "possible is 1 to 14" in str(found[0].why)
    doubted = check_entry(an_entry("day", ParentDay(sleep_h=2.0), infant=None), (), LIMITS)
    assert [one.doubtful for one in doubted] == [True]


def test_hours_are_checked_where_an_entry_is() -> None:
    entry = an_entry("day", ParentDay(helpers="soon"), infant=None)
    assert [one.code for one in check_entry(entry, (), LIMITS)] == ["HOURS-001"]
