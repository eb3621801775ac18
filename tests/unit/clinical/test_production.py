"""What a breast makes in 24 hours, from what was expressed.

The closed form is checked against simulated breasts that fill the slower the fuller they are
(Daly 1993, 1996: rates fall as storage fills) and are emptied in part, the true production known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import timedelta
from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from breasts import Schedule, a_breast, lived
from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import (
    Entry,
    Expression,
    Feed,
    Infant,
    TestWeight,
    WatchedFeed,
)
from suffice.clinical.feed.event import FeedEvent
from suffice.clinical.production import (
    Before,
    Production,
    ProductionParameters,
    Session,
    made_per_day,
    production,
)
from suffice.knowledge.store import load

PARAMETERS = ProductionParameters.from_content(load().flat, load().series)
INFANT = Infant(id=an_id("infant"), position=1)
EIGHT = tuple(range(0, 24, 3))


def sessions(
    hours: Sequence[float], left: float | None = 60.0, right: float | None = 40.0
) -> list[Entry]:
    fact = Expression(left_ml=left, right_ml=right)
    return [an_entry(f"x{hour}", fact, infant=None, at_h=hour) for hour in hours]


def made(entries: list[Entry], at_h: float = 24) -> Production:
    return production(entries, as_of=BORN_AT + timedelta(hours=at_h), parameters=PARAMETERS)


def a_feed(at_h: float, **fields: object) -> Entry:
    fact = Feed(milk="breast", **fields)  # type: ignore[arg-type]
    return an_entry(f"f{at_h}", fact, infant=INFANT, at_h=at_h)


def test_the_first_volume_is_left_out_and_the_rest_divided_by_its_hours() -> None:
    found = made(sessions(EIGHT))
    assert found.left.per_day is not None
    assert found.right.per_day is not None
    assert found.together is not None
    assert found.left.per_day.value == pytest.approx(24 * 7 * 60 / 21)
    assert found.right.per_day.value == pytest.approx(24 * 7 * 40 / 21)
    assert found.together.value == pytest.approx(24 * 7 * 100 / 21)
    assert "first is left out" in str(found.left.per_day.working.formula)


def test_its_interval_is_that_of_both_ends_of_reading_and_of_the_day() -> None:
    found = made([*sessions((0,), 90), *sessions(EIGHT[1:])]).left
    ends = math.hypot(0.2 * 90, 0.2 * 60)
    sd = math.hypot(24 / 21 * math.hypot(ends, 3 * math.sqrt(8)), 0.03 * 480)
    assert found.sd_ml == pytest.approx(sd)
    assert found.per_day is not None
    assert found.per_day.high == pytest.approx(480 + 1.2816 * sd, abs=0.01)
    assert found.per_day.low == pytest.approx(480 - 1.2816 * sd, abs=0.01)


def test_both_sides_together_are_surer_than_twice_one() -> None:
    both = made(sessions(EIGHT, 60, 60)).together
    one = made(sessions(EIGHT, 60, 60)).left.per_day
    assert both is not None
    assert one is not None
    assert one.high is not None
    assert both.high is not None
    assert both.high - both.value < 2 * (one.high - one.value) - 5


def test_it_is_never_the_sum_of_the_day() -> None:
    """Five sessions in 15 hours are no day: their sum is a third too low."""
    found = made(sessions((0, 4, 8, 12, 15)), at_h=15).left.per_day
    assert found is not None
    assert found.value == pytest.approx(24 * 4 * 60 / 15)
    assert found.value > 5 * 60


@pytest.mark.parametrize(
    ("hours", "says"),
    [
        ((), "No session in the last 3 days."),
        ((0, 6), "2 sessions in the last 3 days: at least 3 over 8 h are needed"),
        ((0, 2, 4), "3 sessions in the last 3 days"),
        ((0, 15, 23), "without a gap of more than 14 h"),
    ],
)
def test_too_few_sessions_are_refused_with_what_is_needed(
    hours: tuple[float, ...], says: str
) -> None:
    found = made(sessions(hours))
    assert found.together is None
    assert found.left.per_day is None
    assert says in str(found.left.why_none)
    assert str(found.why_none) == "Not known for both sides."


def test_a_side_that_was_not_expressed_is_not_known_and_so_are_both() -> None:
    found = made(sessions(EIGHT, right=None))
    assert found.left.per_day is not None
    assert found.right.per_day is None
    assert found.together is None


def test_nothing_came_is_an_answer() -> None:
    found = made(sessions(EIGHT, left=0.0)).left.per_day
    assert found is not None
    assert (found.value, found.low) == (0.0, 0.0)


@pytest.mark.parametrize(
    "between",
    [
        a_feed(10),
        a_feed(10, side="both"),
        a_feed(10, side="left"),
        an_entry("t", TestWeight(before_g=3000, after_g=3040), infant=INFANT, at_h=10),
        an_entry(
            "w", WatchedFeed(events=(FeedEvent(at_ms=0, what="left"),)), infant=INFANT, at_h=10
        ),
        an_entry("w", WatchedFeed(), infant=INFANT, at_h=10),
    ],
)
def test_a_feed_at_that_breast_between_the_sessions_is_refused(between: Entry) -> None:
    found = made([*sessions((6, 9, 12, 15)), between])
    assert found.left.per_day is None
    assert "fed at this breast between" in str(found.left.why_none)


@pytest.mark.parametrize(
    "elsewhere",
    [
        a_feed(10, side="right"),
        a_feed(3),
        a_feed(16),
        an_entry("b", Feed(milk="formula", volume_ml=30), infant=INFANT, at_h=10),
        an_entry(
            "w", WatchedFeed(events=(FeedEvent(at_ms=0, what="right"),)), infant=INFANT, at_h=10
        ),
    ],
)
def test_a_feed_elsewhere_or_before_is_no_hindrance(elsewhere: Entry) -> None:
    assert made([*sessions((6, 9, 12, 15)), elsewhere]).left.per_day is not None


def test_the_stretch_after_the_last_feed_serves_where_it_is_long_enough() -> None:
    entries = [*sessions((0, 2, 5, 8, 12), 60), *sessions((11.9,), 0), a_feed(1)]
    found = made([one for one in entries if one.id != an_id("x11.9")])
    assert found.left.per_day is not None
    assert found.left.per_day.value == pytest.approx(24 * 180 / 10)


def test_three_sessions_over_eight_hours_are_just_enough() -> None:
    assert made(sessions((0, 4, 8))).left.per_day is not None
    assert made(sessions((0, 4, 7.9))).left.per_day is None


def test_of_two_stretches_the_later_one_counts() -> None:
    found = made([*sessions((0, 4, 8), 20), a_feed(9), *sessions((10, 14, 18), 60)])
    assert found.left.per_day is not None
    assert found.left.per_day.value == pytest.approx(24 * 120 / 8)


def test_a_long_gap_is_named_and_asked_about() -> None:
    found = made(sessions((0, 3, 6, 15, 18)))
    assert [(gap.side, gap.hours) for gap in found.gaps] == [("left", 9.0), ("right", 9.0)]
    assert "Was a session not written down?" in str(found.gaps[0].asks)
    assert made(sessions(EIGHT)).gaps == ()


def test_what_is_older_than_three_days_or_later_than_asked_does_not_count() -> None:
    with_old = [*sessions(EIGHT), *sessions((-80,), 400), *sessions((30,), 400)]
    assert made(with_old).left == made(sessions(EIGHT)).left


def test_without_a_break_only_the_last_three_days_count() -> None:
    earlier = sessions(range(-96, 0, 3), 200)
    found = made([*earlier, *sessions(range(0, 75, 3), 60)], at_h=72)
    assert found.left.per_day is not None
    assert found.left.per_day.value == pytest.approx(480)


def test_two_volumes_of_one_session_are_one_session() -> None:
    """Left a second time after ten minutes: the first session is left out whole."""
    twice = [*sessions(EIGHT), *sessions((0.1,), 60)]
    assert made(twice).left.per_day is not None
    assert made(twice).left.per_day.value == made(sessions(EIGHT)).left.per_day.value  # type: ignore[union-attr]


TIMED = st.lists(st.tuples(st.floats(1, 6), st.floats(0, 200)), min_size=4, max_size=10)


@given(TIMED)
def test_nobody_makes_less_than_nothing_and_the_interval_holds_the_value(
    timed: list[tuple[float, float]],
) -> None:
    at, entries = 0.0, []
    for gap, ml in timed:
        at += gap
        entries += sessions((at,), ml)
    found = made(entries, at).left.per_day
    if found is not None:
        assert found.low is not None
        assert found.high is not None
        assert 0 <= found.low <= found.value <= found.high


@given(TIMED, st.randoms())
def test_the_order_of_the_entries_does_not_matter(
    timed: list[tuple[float, float]], chance: object
) -> None:
    at, entries = 0.0, []
    for gap, ml in timed:
        at += gap
        entries += sessions((at,), ml)
    shuffled = list(entries)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert made(shuffled, at) == made(entries, at)


def simulated(
    rng: np.random.Generator, at_h: Sequence[float], count: int
) -> tuple[np.ndarray, np.ndarray]:
    """Volumes of breasts (count, sessions) and what they really made in mL/day between them.

    A breast fills at R (1 - (V/S)^2.5); R about 15 mL/h, S about 180 mL; a session takes about
    three quarters of what is there and is read to 5 mL.
    """
    rate, store = (
        15 * np.exp(0.5 * rng.normal(size=count)),
        180 * np.exp(0.4 * rng.normal(size=count)),
    )
    share = rng.beta(9, 3, count)
    volume, made_ml = 0.25 * store, np.zeros(count)
    read, now = [], at_h[0] - 18.0
    for at in (*(at_h[0] - back for back in (15, 12, 9, 6, 3)), *at_h):
        step = (at - now) / 20
        for _ in range(20):
            gained = rate * np.maximum(0, 1 - (volume / store) ** 2.5) * step
            volume = volume + gained
            made_ml += gained * (now >= at_h[0])
        now = at
        taken = volume * rng.beta(10 * share, 10 * (1 - share))
        volume = volume - taken
        read.append(np.maximum(0, 5 * np.round((taken + 1.5 * rng.normal(size=count)) / 5)))
    return np.array(read[5:]).T, made_ml * 24 / (at_h[-1] - at_h[0])


@pytest.mark.parametrize(
    ("at_h", "most_rmse", "covers"),
    [
        (tuple(3.0 * one for one in range(8)), 0.06, (0.85, 0.95)),
        (tuple(3.0 * one for one in range(24)), 0.03, (0.95, 1.0)),
        ((0.0, 9.0, 13.0, 17.0, 21.0), 0.085, (0.78, 0.95)),
        ((0.0, 8.0, 16.0), 0.19, (0.70, 0.92)),
    ],
)
def test_simulated_breasts_make_what_is_said(
    at_h: tuple[float, ...], most_rmse: float, covers: tuple[float, float]
) -> None:
    """Root mean square error of the log, and how often the 80 % interval holds the truth."""
    volumes, truth = simulated(np.random.default_rng(4), at_h, 400)
    answers = [
        made_per_day(
            [Session(BORN_AT + timedelta(hours=at), ml) for at, ml in zip(at_h, row, strict=True)],
            PARAMETERS,
        )
        for row in volumes
    ]
    said, sd = np.array(answers).T
    assert np.sqrt(np.mean(np.log(np.maximum(said, 1) / truth) ** 2)) < most_rmse
    inside = float(np.mean(np.abs(said - truth) < 1.2816 * sd))
    assert covers[0] <= inside <= covers[1]


HOURS = tuple(float(one) for one in range(8))


def test_hour_by_hour_the_first_two_sessions_are_left_out() -> None:
    """The first brings the milk of the night, the second what it left; from the third on it is what an hour makes."""
    entries = [
        *sessions((0,), 120),
        *sessions((1,), 40),
        *sessions(HOURS[2:], 20),
    ]
    found = made(entries, 8).left.per_day
    assert found is not None
    assert found.value == pytest.approx(24 * 6 * 20 / 6)
    assert "hour by hour" in str(found.working.formula)
    assert any("weigh them to 1" in str(one) for one in found.working.notes)


@pytest.mark.parametrize(
    "at_h", [(0, 1, 2, 3, 4), (0, 1, 2, 3, 4, 4.9), (0, 1, 2, 3.6, 5, 6, 7)], ids=str
)
def test_too_few_hours_or_a_longer_gap_are_no_hourly_method(at_h: tuple[float, ...]) -> None:
    assert made(sessions(at_h, 20), 8).left.per_day is None


def test_a_day_with_one_longer_gap_is_no_hourly_method() -> None:
    found = made(sessions((*HOURS, 10), 20), 10).left.per_day
    assert found is not None
    assert "hour by hour" not in str(found.working.formula)


def test_hourly_volumes_of_simulated_breasts_say_what_they_make() -> None:
    """Where they are read to 5 mL; the sum of the whole stretch says far too much."""
    volumes, truth = simulated(np.random.default_rng(8), HOURS, 400)
    answers = [
        made_per_day(
            [
                Session(BORN_AT + timedelta(hours=at), ml)
                for at, ml in zip(HOURS[1:], row[1:], strict=True)
            ],
            PARAMETERS,
        )
        for row in volumes
    ]
    said, sd = np.array(answers).T
    error = np.log(np.maximum(said, 1) / truth)
    whole = np.log(24 * volumes.sum(axis=1) / 8 / truth)
    assert np.median(np.abs(error)) < 0.12
    assert np.median(whole) > 0.2
    inside = float(np.mean(np.abs(said - truth) < 1.2816 * sd))
    assert 0.72 <= inside <= 0.97


THREE_A_DAY: Schedule = tuple((8.0 * one, "session") for one in range(13))
"""Sessions at every eighth hour for four days."""


@pytest.mark.parametrize(
    ("kind", "most_rmse", "covers"), [("usual", 0.115, (0.84, 0.96)), ("other", 0.17, (0.72, 0.90))]
)
def test_with_three_sessions_a_day_a_first_volume_whose_time_is_known_makes_it_surer(
    kind: Literal["usual", "other"], most_rmse: float, covers: tuple[float, float]
) -> None:
    """The last three sessions of four days, against what those days made, of breasts that share no line with it."""
    rng = np.random.default_rng(29)
    known, unknown, truth = [], [], []
    for _ in range(500):
        read, made_ml = lived(rng, a_breast(rng, kind), THREE_A_DAY)
        run = [
            Session(BORN_AT + timedelta(hours=8 * place), ml) for place, ml in enumerate(read[-3:])
        ]
        known.append(made_per_day(run, PARAMETERS, Before(8.0)))
        unknown.append(made_per_day(run, PARAMETERS))
        truth.append(made_ml)

    def rmse(answers: list[tuple[float, float]]) -> float:
        said = np.maximum([one for one, _ in answers], 1)
        return float(np.sqrt(np.mean(np.log(said / np.array(truth)) ** 2)))

    assert rmse(known) < most_rmse
    assert rmse(known) < 0.8 * rmse(unknown)
    said, sd = np.array(known).T
    inside = float(np.mean(np.abs(said - truth) < 1.2816 * sd))
    assert covers[0] <= inside <= covers[1]


def test_the_first_volume_counts_with_its_time_where_it_was_said() -> None:
    entries = sessions([0, 8, 16])
    said = Expression(left_ml=60.0, right_ml=40.0, hours_since_last=8)
    entries[0] = an_entry("x0", said, infant=None, at_h=0)
    last = PARAMETERS.last_fraction.value
    found = made(entries, 24).left.per_day
    assert found is not None
    assert found.value == pytest.approx(24 * 60 * (2 + last) / (8 * (2 + last)))
    assert "first volume" in {str(one.name) for one in found.working.inputs}
    assert PARAMETERS.last_fraction in found.working.constants


def test_hours_that_were_told_are_less_sure_than_those_on_record() -> None:
    """By the rounding of the half hour and by the share of wrong ones; the value is the same."""
    entries = sessions([0, 8, 16])
    said = Expression(left_ml=60.0, right_ml=40.0, hours_since_last=8)
    told_first = [an_entry("x0", said, infant=None, at_h=0), *entries[1:]]
    told = made(told_first, 24).left
    known = made([*sessions([-8]), *entries], 72 - 4).left
    assert told.per_day is not None
    assert known.per_day is not None
    assert told.per_day.value == pytest.approx(known.per_day.value)
    off_h = math.hypot(0.5 / math.sqrt(12), math.sqrt(0.2) * 0.4 * 8)
    more = told.per_day.value / (8 * 2.4) * off_h
    assert told.sd_ml == pytest.approx(math.hypot(known.sd_ml, more))
    assert PARAMETERS.told_wrong_fraction in told.per_day.working.constants
    assert PARAMETERS.told_wrong_fraction not in known.per_day.working.constants


@pytest.mark.parametrize(
    ("kind", "wrong", "covers"),
    [
        ("usual", 0.2, (0.86, 0.95)),
        ("other", 0.2, (0.77, 0.88)),
        ("usual", 0.4, (0.83, 0.93)),
        ("other", 0.4, (0.75, 0.87)),
    ],
)
def test_told_hours_of_which_some_are_wrong_keep_the_interval_honest(
    kind: Literal["usual", "other"], wrong: float, covers: tuple[float, float]
) -> None:
    """Three sessions whose first one's hours are told to the half hour, a share of them 40 % off either way."""
    rng = np.random.default_rng(41)
    inside = []
    for _ in range(600):
        read, made_ml = lived(rng, a_breast(rng, kind), THREE_A_DAY)
        run = [
            Session(BORN_AT + timedelta(hours=8 * place), ml) for place, ml in enumerate(read[-3:])
        ]
        off = rng.choice([0.6, 1.4]) if rng.random() < wrong else 1.0
        told_h = round(8 * off * 2) / 2
        before = Before(told_h, is_reported=True) if 4 <= told_h <= 8 else None
        said, sd = made_per_day(run, PARAMETERS, before)
        inside.append(abs(said - made_ml) < 1.2816 * sd)
    assert covers[0] <= float(np.mean(inside)) <= covers[1]


def first_said(hours: float, fed_at: float | None = None) -> bool:
    """Whether the first of sessions at every eighth hour counts where its hours were entered."""
    entries = sessions([0, 8, 16])
    said = Expression(left_ml=60.0, right_ml=40.0, hours_since_last=hours)
    entries[0] = an_entry("x0", said, infant=None, at_h=0)
    fed = [] if fed_at is None else [a_feed(fed_at, side="left")]
    found = made([*entries, *fed], 24).left.per_day
    assert found is not None
    return "first volume" in {str(one.name) for one in found.working.inputs}


def test_a_first_volume_soon_after_a_removal_is_left_out() -> None:
    """What the removal before left behind was not made in a quarter of an hour."""
    assert not first_said(0.25)
    assert not first_said(3.9)
    assert first_said(4)
    assert not first_said(8.1)


def test_a_feed_on_the_record_counts_more_than_the_hours_that_were_said() -> None:
    assert first_said(6, fed_at=-7)
    assert not first_said(6, fed_at=-2)


def test_the_hours_of_the_other_breast_say_nothing() -> None:
    left = sessions([0, 8, 16], right=None)
    right = an_entry("r0", Expression(right_ml=40.0, hours_since_last=8), infant=None, at_h=0)
    found = made([*left, right], 24).left.per_day
    assert found is not None
    assert "first volume" not in {str(one.name) for one in found.working.inputs}


def test_a_session_before_the_window_says_over_how_long_the_first_one_gathered() -> None:
    """It is too old to count, and tells the time all the same."""
    older = sessions([-0.5, 4, 12, 20])
    found = made(older, 73).left.per_day
    assert found is not None
    assert "first volume" in {str(one.name) for one in found.working.inputs}
    assert next(one for one in found.working.inputs if str(one.name) == "sessions").value == 3


@pytest.mark.parametrize(
    ("before_h", "feeds"),
    [(9.0, []), (None, []), (8.0, [-4.0])],
    ids=["a longer gap", "no session before", "a feed between"],
)
def test_a_first_volume_whose_time_is_not_like_the_others_is_left_out(
    before_h: float | None, feeds: list[float]
) -> None:
    at_h = [0.0, 8.0, 16.0] if before_h is None else [-before_h, 0.0, 8.0, 16.0]
    entries = [*sessions(at_h), *(a_feed(hour, side="left") for hour in feeds)]
    found = made(entries, 72 - 1e-3 if before_h is None else 72 - before_h / 2).left.per_day
    assert found is not None
    assert "first volume" not in {str(one.name) for one in found.working.inputs}
