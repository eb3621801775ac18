"""A plan on the clock: the worked days, drawn ones, and days that cannot be.

Every clock is read by `schedule_checker`, which knows nothing of how it was found.
"""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from day_cases import ALONE, NOBODY_FEEDS, PARAMETERS, PARTNER, UNIT, WORK, a_case, drawn
from patience import PATIENCE_S
from schedule_checker import faults
from suffice.clinical.reading.hours import hours_of
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of
from suffice.plan.program import Program, Solved
from suffice.plan.schedule import LEAST_S, Schedule, longest_sleep_minutes, scheduled
from suffice.plan.schedule_model import DayModel


def said(schedule: Schedule) -> str:
    return " ".join(text_of(one, Policy()) for one in (*schedule.gave, *schedule.conflicts))


def count(schedule: Schedule, what: str, who: str = "parent") -> int:
    return sum(one.what == what and one.who == who for one in schedule.acts)


def test_alone_nobody_sleeps_longer_than_a_gap_less_a_feed() -> None:
    found = scheduled(ALONE, PARAMETERS)
    assert faults(found.acts, ALONE) == []
    # The longest gap of 3 h less the breast and the milk after it.
    assert found.sleep_minutes == 180 - 45
    assert count(found, "breast") >= 9
    assert "2 h 15 min; 5 h is wished for" in said(found)
    assert "fewer sessions change nothing in that" in said(found)


def test_a_partner_in_the_evening_and_the_morning_gives_the_sleep() -> None:
    found = scheduled(PARTNER, PARAMETERS)
    assert faults(found.acts, PARTNER) == []
    assert found.sleep_minutes == 300
    assert count(found, "bottle", "helper") >= 1
    assert "given by the helper, not at the breast" in said(found)


def test_an_infant_on_a_unit_leaves_sessions_alone_on_the_clock() -> None:
    found = scheduled(UNIT, PARAMETERS)
    assert faults(found.acts, UNIT) == []
    assert (count(found, "express"), found.sleep_minutes) == (8, 300)
    assert {one.what for one in found.acts} == {"express", "sleep"}


@pytest.mark.parametrize("sleep_minutes", [300, 0])
def test_a_day_of_which_nothing_is_asked_but_sleep_is_drawn(sleep_minutes: int) -> None:
    """An infant on a unit whose parent expresses no milk, or does so no more."""
    found = scheduled(
        a_case(
            feeds_count=0, sessions_count=0, milk_feeds_count=0, removal_gap_minutes=None,
            sleep_minutes=sleep_minutes,
        ),
        PARAMETERS,
    )  # fmt: skip
    assert found.is_possible
    assert found.is_proven
    assert found.sleep_minutes == sleep_minutes
    assert [one.what for one in found.acts] == ["sleep"] * bool(sleep_minutes)


def test_at_work_sessions_are_there_and_a_helper_feeds() -> None:
    found = scheduled(WORK, PARAMETERS)
    assert faults(found.acts, WORK) == []
    assert found.sleep_minutes == 360
    assert count(found, "express") == 3
    assert count(found, "bottle", "helper") >= 1


def test_nobody_who_feeds_is_named_with_the_hours() -> None:
    found = scheduled(NOBODY_FEEDS, PARAMETERS)
    assert (found.is_possible, found.acts) == (False, ())
    assert "Nobody feeds 08:00-16:00" in said(found)
    assert "no gap may be longer than 3 h" in said(found)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"feeds_count": 17, "milk_feeds_count": 0}, "17 feeds at least 1 h 30 min apart"),
        (
            {"breast_minutes": 200.0},
            "One feed takes 3 h 35 min, longer than the longest gap of 3 h",
        ),
        (
            {"away": hours_of("6-5"), "expresses_away": False, "sleep_minutes": 420},
            "Sleep, being away and the plan come to",
        ),
        ({"away": hours_of("8:10-10:20")}, "nobody who does two things at once"),
    ],
)
def test_what_cannot_be_done_is_never_silent(changed: dict[str, object], says: str) -> None:
    found = scheduled(a_case(**changed), PARAMETERS)
    assert says in said(found)


def test_more_sleep_than_any_day_has_is_cut_and_said() -> None:
    found = scheduled(a_case(sleep_minutes=24 * 60, helpers=hours_of("0-24")), PARAMETERS)
    assert 0 < found.sleep_minutes <= 12 * 60
    assert "24 h is wished for" in said(found)


def test_milk_for_a_bottle_is_expressed_first_where_there_is_no_other() -> None:
    case = a_case(
        sessions_count=0, removal_gap_minutes=None, milk_feeds_count=0, is_own_milk=True,
        helpers=hours_of("22-6"), feeds_count=8,
    )  # fmt: skip
    found = scheduled(case, PARAMETERS)
    assert faults(found.acts, case) == []
    assert count(found, "express") == count(found, "bottle", "helper") >= 1
    assert "more than asked for" in said(found)


def test_a_breast_that_is_to_be_relieved_is_fed_from_and_no_helper_replaces_it() -> None:
    """A hard breast was left for seven hours for a helper's bottle, beside 'do not pump more than that'."""
    case = a_case(
        sessions_count=0, removal_gap_minutes=None, milk_feeds_count=0, is_own_milk=True,
        helpers=hours_of("22-6"), feeds_count=8, keeps_breast=True,
    )  # fmt: skip
    found = scheduled(case, PARAMETERS)
    assert faults(found.acts, case) == []
    assert count(found, "bottle", "helper") == count(found, "express") == 0
    away = msgspec.structs.replace(
        case, away=hours_of("9-15"), helpers=hours_of("9-15"), gap_day_minutes=240
    )
    found = scheduled(away, PARAMETERS)
    assert faults(found.acts, away) == []
    assert count(found, "bottle", "helper") >= 1, "who is not there feeds nobody"


@pytest.mark.parametrize("seed", range(8))
def test_every_drawn_day_passes_the_checker_or_says_why_there_is_none(seed: int) -> None:
    case = drawn(seed)
    found = scheduled(case, PARAMETERS)
    if found.is_possible:
        assert faults(found.acts, case) == []
    else:
        assert (found.acts, bool(said(found))) == ((), True)


@pytest.mark.parametrize("seed", [1, 4])
def test_help_at_any_time_never_costs_sleep(seed: int) -> None:
    case = drawn(seed)
    longest = longest_sleep_minutes(case, PARAMETERS)
    helped = longest_sleep_minutes(
        a_case(**{name: getattr(case, name) for name in case.__struct_fields__ if name != "helpers"},
               helpers=hours_of("0-24")),
        PARAMETERS,
    )  # fmt: skip
    assert helped is not None
    assert longest is None or helped >= longest


def test_out_of_time_the_best_so_far_is_taken_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    solve = Program.solve

    def stopped(program: Program, costs: Any, seconds: float, **more: Any) -> Solved:
        """As the solver, which on a slow machine would stop: what has no time left proves nothing."""
        found = solve(program, costs, PATIENCE_S, **more)
        return found._replace(is_proven=False) if seconds <= LEAST_S else found

    monkeypatch.setattr(Program, "solve", stopped)
    # One question for the longest sleep, one for the bound of each place; then the time is over.
    asked = 1 + len(DayModel(PARTNER, PARAMETERS).sleeps(20))
    calls = iter(range(10_000))
    found = scheduled(PARTNER, PARAMETERS, lambda: 0.0 if next(calls) < asked else 100.0)
    assert faults(found.acts, PARTNER) == []
    assert not found.is_proven
    assert "a better day may exist" in said(found)


def test_minutes_are_those_of_the_clock_and_cleaning() -> None:
    case = a_case(
        feeds_count=0, milk_feeds_count=0, sessions_count=2, removal_gap_minutes=None,
        sleep=hours_of("0-24"),
    )  # fmt: skip
    found = scheduled(case, PARAMETERS)
    assert (found.parent_minutes, found.helper_minutes) == (2 * 25 + 30, 0)
    assert found.sleep_minutes == 300


def test_weights_that_are_no_whole_numbers_find_a_day_as_well() -> None:
    weight = msgspec.structs.replace(PARAMETERS.session_weight_ratio, value=8.5)
    changed = msgspec.structs.replace(PARAMETERS, session_weight_ratio=weight)
    found = scheduled(UNIT, changed)
    assert (faults(found.acts, UNIT), count(found, "express")) == ([], 8)


def test_sleep_of_a_case_that_cannot_be_is_not_known() -> None:
    assert longest_sleep_minutes(NOBODY_FEEDS, PARAMETERS) is None
    assert longest_sleep_minutes(ALONE, PARAMETERS) == 135


def test_a_place_of_sleep_without_a_day_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the places of sleep some have no day and some a worse one: the best of the rest is taken."""
    solve, fixed = Program.solve, []

    def failing(program: Program, costs: Any, seconds: float, **more: Any) -> Solved:
        found = solve(program, costs, seconds, **more)
        if costs and more.get("without"):
            fixed.append(found)
            if len(fixed) == 1:
                return Solved(values=None, is_proven=True)
        return found

    monkeypatch.setattr(Program, "solve", failing)
    monkeypatch.setattr(Program, "least", lambda *_of, **_more: 0.0)  # so that each place is tried
    found = scheduled(PARTNER, PARAMETERS)
    assert len(fixed) > len(DayModel(PARTNER, PARAMETERS).sleeps(20))
    assert faults(found.acts, PARTNER) == []
    assert found.sleep_minutes == 300


def test_once_the_time_is_over_no_further_place_of_sleep_is_tried(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    solve, fixed = Program.solve, []

    def noted(program: Program, costs: Any, seconds: float, **more: Any) -> Solved:
        found = solve(program, costs, PATIENCE_S, **more)
        if costs:
            fixed.append(found)
        return found

    monkeypatch.setattr(Program, "solve", noted)
    monkeypatch.setattr(Program, "least", lambda *_of, **_more: 0.0)  # so that each place is tried
    found = scheduled(PARTNER, PARAMETERS, lambda: 100.0 if fixed else 0.0)
    assert len(fixed) == 2, "one place, and the minutes of its day"
    assert faults(found.acts, PARTNER) == []
    assert not found.is_proven
