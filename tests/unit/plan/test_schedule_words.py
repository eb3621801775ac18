"""What gave way, read from the clock."""

from __future__ import annotations

import pytest

from day_cases import PARAMETERS, a_case
from suffice.clinical.entry.clock import Act
from suffice.clinical.reading.hours import hours_of
from suffice.plan.schedule_words import conflicts_of, feed_starts, gaps_of, gave_of, in_h_min


def acts(*given: tuple[int, str]) -> tuple[Act, ...]:
    return tuple(Act(starts_minutes=at, minutes=20, what=what) for at, what in given)  # type: ignore[arg-type]


def said(case: object, *given: tuple[int, str], is_proven: bool = True) -> list[str]:
    return [str(one) for one in gave_of(case, acts(*given), is_proven=is_proven)]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("minutes", "text"), [(0, "0 h"), (45, "45 min"), (120, "2 h"), (140, "2 h 20 min")]
)
def test_lengths_of_time_are_said_without_what_is_nought(minutes: float, text: str) -> None:
    assert str(in_h_min(minutes)) == text


def test_gaps_go_round_the_clock() -> None:
    assert gaps_of([600, 0, 1200]) == [(0, 600), (600, 600), (1200, 240)]
    assert gaps_of([]) == []
    assert feed_starts(acts((5, "breast"), (40, "milk"), (90, "bottle"), (99, "express"))) == [
        5,
        90,
    ]


def test_nothing_that_fits_is_said_to_have_given_way() -> None:
    case = a_case(feeds_count=1, milk_feeds_count=0, sessions_count=1, sleep_minutes=20,
                  removal_gap_minutes=1440)  # fmt: skip
    assert said(case, (0, "breast"), (60, "express"), (200, "sleep")) == []


def test_a_day_that_is_not_proven_says_so() -> None:
    case = a_case(feeds_count=0, sessions_count=0, removal_gap_minutes=None, sleep_minutes=0)
    assert said(case, is_proven=False) == [
        "The best that was found in a few seconds; a better day may exist."
    ]


def test_without_any_removal_the_gap_is_the_whole_day() -> None:
    case = a_case(feeds_count=0, sleep_minutes=0)
    assert "The longest time between two removals of milk is 24 h; 5 h is asked." in said(case)


def test_sleep_that_nobody_wished_for_is_not_said_to_have_given_way() -> None:
    case = a_case(is_sleep_wished=False, is_woken=False, sessions_count=0, removal_gap_minutes=None,
                  feeds_count=0)  # fmt: skip
    assert said(case) == []
    woken = a_case(is_sleep_wished=False, sessions_count=0, removal_gap_minutes=None, feeds_count=1)
    assert any(one.startswith("Alone nobody sleeps") for one in said(woken, (0, "breast")))


def test_a_whole_day_away_is_one_stretch() -> None:
    case = a_case(away=hours_of("0-24"), sleep_minutes=0, helpers=hours_of("3-4"))
    found = [str(one) for one in conflicts_of(case, PARAMETERS)]
    assert any("Nobody feeds 04:00-03:00" in one for one in found)
    bare = [str(one) for one in conflicts_of(a_case(away=hours_of("0-24")), PARAMETERS)]
    assert any("Nobody feeds 00:00-24:00" in one for one in bare)


def test_bottles_take_their_own_time() -> None:
    case = a_case(at_breast="not now", bottle_minutes=200.0)
    found = [str(one) for one in conflicts_of(case, PARAMETERS)]
    assert "One feed takes 3 h 20 min, longer than the longest gap of 3 h." in found
    away = a_case(at_breast="not now", away=hours_of("8-11"))
    assert any("Nobody feeds" in str(one) for one in conflicts_of(away, PARAMETERS))


def test_feeds_that_only_the_gap_needs_are_said() -> None:
    case = a_case(feeds_count=1, milk_feeds_count=0, sessions_count=0, sleep_minutes=0,
                  removal_gap_minutes=None)  # fmt: skip
    two = said(case, (0, "breast"), (600, "breast"))
    says = "Feeds: 2, where at least 1 are asked for; the longest gap needs them."
    assert says in two
    assert says not in said(case, (0, "breast"))
