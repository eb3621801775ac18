"""What a plan is sized from, as far as the record says it."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from people import BORN_AT, an_entry
from plan_case import BIRTH, SLOW, WELL, a_weight, an_infants, asked, counts
from suffice.clinical.entry import (
    Expression,
    Feed,
    FeedCount,
    ParentDay,
    Plan,
    Stool,
    TestWeight,
    Weight,
    Wet,
)
from suffice.knowledge.store import load
from suffice.plan.known import (
    _changes,
    _few_diapers,
    away_h_of,
    course_of,
    feeds_count,
    floor_of,
    given_ml_per_day,
    is_at_breast,
    is_breast_unwritten,
    known_of,
    sessions_in_24_h,
    taken_at_breast,
)
from suffice.plan.parameters import plan_parameters

PARAMETERS = plan_parameters(load())


def formula(day: float) -> object:
    return an_infants("f", Feed(milk="formula", volume_ml=60), day)


@pytest.mark.parametrize(
    ("facts", "is_there"),
    [
        ((), True),
        (((Feed(milk="formula", volume_ml=60), 6.5),), False),
        (((Feed(milk="formula", volume_ml=60), 6.5), (Feed(milk="breast"), 6.2)), True),
        (((Feed(milk="formula", volume_ml=60), 6.5), (Feed(milk="breast"), 4.0)), False),
        (((Plan(move="first", at_breast="not now"), 5.0),), False),
        (((Plan(move="first", at_breast="not now"), 5.0), (Feed(milk="breast"), 6.5)), True),
        (((Feed(milk="formula"), 6.5), (TestWeight(before_g=3000, after_g=3030), 6.4)), True),
        (((Plan(move="first", at_breast="every feed"), 5.0), (Feed(milk="formula"), 6.5)), True),
        (((Plan(move="first", at_breast="not now"), 5.0), (Feed(milk="formula"), 6.5)), False),
    ],
)
def test_it_is_at_the_breast_unless_only_measured_milk_stands_on_record(
    facts: tuple[tuple[object, float], ...], is_there: bool
) -> None:
    entries = [an_infants(f"e{n}", fact, day) for n, (fact, day) in enumerate(facts)]  # type: ignore[arg-type]
    found = asked(BIRTH, a_weight(3300, 3), *entries, day=7, engine=False)
    assert is_at_breast(found, PARAMETERS) is is_there


@pytest.mark.parametrize(
    ("entries", "is_asked"),
    [
        ((), False),
        ((("bottle", Feed(milk="formula", volume_ml=20)),), True),
        ((("breast", Feed(milk="breast")), ("bottle", Feed(milk="formula", volume_ml=20))), False),
        ((("bottle", Feed(milk="formula", volume_ml=500)),), False),
    ],
)
def test_who_thrives_on_a_little_measured_milk_is_asked_about_the_breast(
    entries: tuple[tuple[str, Feed], ...], is_asked: bool
) -> None:
    """Nobody gains 34 g a day on 20 mL: the rest was not written down."""
    fed = [an_infants(name, fact, 21.2) for name, fact in entries]
    found = asked(*WELL, *counts(21), *fed, day=21.5, engine=False)
    assert found.suffices
    assert is_breast_unwritten(found, PARAMETERS) is is_asked
    assert is_at_breast(found, PARAMETERS) is (is_asked or not entries or len(entries) == 2)


@pytest.mark.parametrize(
    ("day", "counted", "count"), [(21, 6, 8), (60, 6, 6), (60, 3, 4), (200, 3, 3), (60, None, 8)]
)
def test_after_the_first_month_whoever_gets_enough_has_the_feeds_that_were_counted(
    day: int, counted: int | None, count: int
) -> None:
    found = asked(*WELL, *counts(21), day=21.5, engine=False)
    entries = [one for one in found.entries if not isinstance(one.fact, FeedCount)]
    if counted is not None:
        entries.append(an_infants("n", FeedCount(count=counted), 21.4))
    older = msgspec.structs.replace(found.infant, age_h=24.0 * day)
    found = msgspec.structs.replace(found, infant=older, entries=tuple(entries))
    assert feeds_count(found, PARAMETERS) == count


@pytest.mark.parametrize(("days_ago", "count"), [(1, 12), (6, 12), (8, 8)])
def test_in_the_first_month_an_old_count_of_feeds_says_nothing_of_now(
    days_ago: int, count: int
) -> None:
    found = asked(*WELL, day=21.5, engine=False)
    counted = an_infants("n", FeedCount(count=12), 21.5 - days_ago)
    found = msgspec.structs.replace(found, entries=(counted,))
    assert feeds_count(found, PARAMETERS) == count


@pytest.mark.parametrize(
    ("said", "hours"),
    [
        (None, 0),
        (ParentDay(away="8:30-17:00"), 8.5),
        (ParentDay(away="8-12, 13-19", expresses_away=True), 6),
        (ParentDay(away="8-17", expresses_away=False), 0),
        (ParentDay(), 0),
    ],
)
def test_hours_away_are_the_longest_in_one_piece(said: ParentDay | None, hours: float) -> None:
    entries = () if said is None else (an_entry("day", said, infant=None, at_h=24 * 20),)
    assert away_h_of(asked(*WELL, *entries, day=21.5, engine=False)) == hours


@pytest.mark.parametrize(("counted", "count"), [(None, 8), (5, 8), (10, 10), (20, 12)])
def test_feeds_are_those_of_the_norm_or_as_many_as_were_counted(
    counted: int | None, count: int
) -> None:
    entries = () if counted is None else (an_infants("n", FeedCount(count=counted), 6),)
    found = asked(BIRTH, a_weight(3300, 3), *entries, day=7, engine=False)
    assert feeds_count(found, PARAMETERS) == count


def test_what_is_given_is_what_the_last_plan_says_else_what_was_written_down() -> None:
    fed = [an_infants("f", Feed(milk="formula", volume_ml=60), 6.2 + n / 5) for n in range(3)]
    assert given_ml_per_day(asked(*WELL[:2], *fed, day=7, engine=False)) == 180
    plan = an_infants("p", Plan(move="first", supplement_ml_per_day=240.0), 5)
    assert given_ml_per_day(asked(*WELL[:2], plan, *fed, day=7, engine=False)) == 240
    silent = an_infants("p", Plan(move="first"), 5)
    assert given_ml_per_day(asked(*WELL[:2], silent, *fed, day=7, engine=False)) == 180
    assert given_ml_per_day(asked(*WELL[:2], day=7, engine=False)) == 0


def test_intake_at_the_breast_is_the_engines_or_nobodys() -> None:
    found = asked(*SLOW, day=15.2)
    assert found.infant.estimate is not None
    taken = taken_at_breast(found)
    assert taken is not None
    assert taken.value == found.infant.estimate.breast_intake.median
    none = msgspec.structs.replace(found.infant, estimate=None)
    assert taken_at_breast(msgspec.structs.replace(found, infant=none)) is None


def test_a_day_of_weighed_feeds_counts_where_the_engine_is_not_trusted() -> None:
    weighed = [
        an_infants(f"t{n}", TestWeight(before_g=3000, after_g=3040, minutes=15), 14.25 + n / 8)
        for n in range(8)
    ]
    found = asked(*SLOW, *weighed, day=15.2, engine=False)
    taken = taken_at_breast(found)
    assert taken is not None
    assert taken.low is not None
    assert taken.high is not None
    # A gram of milk is a little less than a millilitre; what a breast burns meanwhile is added.
    assert taken.value == pytest.approx(320, rel=0.03)
    assert 20 < taken.high - taken.low < 120
    poured = an_infants("f", Feed(milk="formula", volume_ml=60), 15.15)
    of_breast = taken_at_breast(asked(*SLOW, *weighed, poured, day=15.2, engine=False))
    assert of_breast is not None
    assert of_breast.value == pytest.approx(taken.value, rel=0.02)
    unweighed = an_infants("b", Feed(milk="breast", minutes=20), 15.0625)
    assert taken_at_breast(asked(*SLOW, *weighed, unweighed, day=15.2, engine=False)) is None
    assert taken_at_breast(asked(*SLOW, *weighed[:4], day=15.2, engine=False)) is None


def test_the_last_weight_since_birth_counts_and_the_birth_weight_is_none() -> None:
    known = known_of(asked(*SLOW, day=15.2, engine=False), PARAMETERS)
    assert (known.weight_g, known.weight_age_h) == (3300, 15 * 24)
    assert known.is_short
    assert not known.suffices
    bare = known_of(asked(BIRTH, day=2, engine=False), PARAMETERS)
    assert bare.weight_g is None


def test_a_course_begins_at_the_lowest_weight_and_knows_each_change() -> None:
    plans = [
        an_infants("p", Plan(move=move, supplement_ml_per_day=ml), day)  # type: ignore[arg-type]
        for move, ml, day in (("first", 240.0, 8), ("hold", 240.0, 10), ("down", 190.0, 13))
    ]
    found = asked(*SLOW, *plans, *counts(15), day=15.2, engine=False)
    course = course_of(found, 190.0, PARAMETERS)
    assert [one.weight_g for one in course.weights] == [3200, 3220, 3260, 3300]
    assert [(round(one.age_d), one.by_ml_per_day) for one in course.changes] == [
        (8, 240.0),
        (13, -50.0),
    ]
    assert (course.since_d, course.is_weighed_since) == (pytest.approx(2.0), True)
    assert course.held_count == 0
    assert course.few_diapers is False


def test_a_weight_before_the_last_change_is_none_since() -> None:
    plan = an_infants("p", Plan(move="first", supplement_ml_per_day=240.0), 15.1)
    course = course_of(asked(*SLOW, plan, day=15.2, engine=False), 240.0, PARAMETERS)
    assert not course.is_weighed_since
    assert course.few_diapers is None


@pytest.mark.parametrize(
    ("moves", "every", "count"),
    [
        (("first", "hold", "down", "hold", "back"), 2, 2),
        (("first", "hold", "down"), 2, 0),
        (("first",), 2, 0),
        (("first", "hold", "hold", "hold"), 0.5, 0),
    ],
)
def test_steps_that_did_not_go_down_are_counted_from_the_end(
    moves: tuple[str, ...], every: float, count: int
) -> None:
    plans = [
        an_infants("p", Plan(move=move, supplement_ml_per_day=240.0), 4 + every * n)  # type: ignore[arg-type]
        for n, move in enumerate(moves)
    ]
    found = asked(*SLOW, *plans, day=15.2, engine=False)
    assert course_of(found, 240.0, PARAMETERS).held_count == count


def test_the_floor_is_that_of_the_age() -> None:
    """WHO velocity: the 15th centile of a boy's gain falls from the second month on."""
    young = floor_of(asked(*WELL, day=30, engine=False), PARAMETERS)
    older = floor_of(asked(*WELL, day=120, engine=False), PARAMETERS)
    assert 25 < young < 35
    assert older < 20


def test_sessions_are_those_of_the_last_day() -> None:
    pumped = [
        an_entry(f"x{n}", Expression(left_ml=30), infant=None, at_h=24 * 14 + 6 * n)
        for n in range(6)
    ]
    found = asked(*SLOW, *pumped, day=15.2, engine=False)
    assert found.as_of == BORN_AT + timedelta(days=15.2)
    assert sessions_in_24_h(found) == 4


def test_weights_before_the_lowest_one_are_the_loss_after_birth_and_left_out() -> None:
    weights = (a_weight(3400, 1), a_weight(3200, 3), a_weight(3260, 7))
    course = course_of(asked(BIRTH, *weights, day=7.2, engine=False), 100.0, PARAMETERS)
    assert [one.weight_g for one in course.weights] == [3200, 3260]


def test_a_plan_without_an_amount_changes_none() -> None:
    """The supplement of before stays what the next plan is compared with."""
    amounts = ((240.0, 5), (None, 7), (180.0, 9))
    plans = [
        an_infants("p", Plan(move="first", supplement_ml_per_day=ml), day) for ml, day in amounts
    ]
    began, changed = _changes(asked(BIRTH, *plans, day=10, engine=False), BORN_AT)
    assert (began.age_d, began.by_ml_per_day) == (5, 240)
    assert (changed.age_d, changed.by_ml_per_day) == (9, -60)


def test_without_a_change_a_course_counts_from_the_first_plan() -> None:
    plan = an_infants("p", Plan(move="first"), 5)
    for entries, since_d in (((plan,), 1.0), ((), PARAMETERS.step_days.value)):
        case = asked(BIRTH, a_weight(3300, 4), a_weight(3360, 6), *entries, day=7, engine=False)
        assert course_of(case, 0.0, PARAMETERS).since_d == pytest.approx(since_d)


def test_what_was_given_before_the_first_plan_is_no_change_of_it() -> None:
    fed = [an_infants("f", Feed(milk="formula", volume_ml=50), 4.2 + n / 5) for n in range(4)]
    plan = an_infants("p", Plan(move="first", supplement_ml_per_day=200.0), 5)
    assert _changes(asked(BIRTH, *fed, plan, day=6, engine=False), BORN_AT) == []
    more = an_infants("p", Plan(move="first", supplement_ml_per_day=260.0), 5)
    (changed,) = _changes(asked(BIRTH, *fed, more, day=6, engine=False), BORN_AT)
    assert changed.by_ml_per_day == 60


def test_diapers_are_few_where_a_flag_of_theirs_is_open_and_unknown_where_nobody_counted() -> None:
    few = an_infants("wet", Wet(count=1, over_h=24), 6.9)
    wets = an_infants("wet", Wet(count=8, over_h=24), 6.9)
    stools = an_infants("stool", Stool(count=4, over_h=24), 6.9)
    for entries, is_few in (((few,), True), ((wets, stools), False), ((wets,), None), ((), None)):
        found = asked(BIRTH, a_weight(3400, 6), *entries, day=7, engine=False)
        assert _few_diapers(found) is is_few


def test_before_a_weight_after_birth_there_is_no_course() -> None:
    assert course_of(asked(BIRTH, day=2, engine=False), 240.0, PARAMETERS).weights == ()


def test_one_diaper_written_down_is_no_count_of_a_day() -> None:
    """A supplement goes down only where somebody counted; what is certain may be enough all the same."""
    stools = an_infants("stool", Stool(count=4, over_h=24), 6.9)
    known = (BIRTH, a_weight(3400, 6), stools)
    some = an_infants("wet", Wet(), 6.9)
    assert _few_diapers(asked(*known, some, day=7, engine=False)) is None
    many = [an_infants("wet", Wet(), 6.1 + n / 10) for n in range(8)]
    assert _few_diapers(asked(*known, *many, day=7, engine=False)) is False


def test_stools_are_not_asked_for_where_none_is_expected_any_more() -> None:
    wets = an_infants("wet", Wet(count=8, over_h=24), 59.9)
    assert _few_diapers(asked(*WELL, a_weight(5200, 59), wets, day=60, engine=False)) is False


def test_a_weight_in_clothes_is_no_gain_that_a_step_rests_on() -> None:
    dressed = an_infants("w", Weight(weight_g=3900, clothing="clothed"), 15.1)
    found = asked(*SLOW, dressed, day=15.2, engine=False)
    assert [one.weight_g for one in course_of(found, 190.0, PARAMETERS).weights] == [
        3200, 3220, 3260, 3300,
    ]  # fmt: skip
    known = known_of(found, PARAMETERS)
    assert (known.weight_g, known.weight_age_h) == (3300, 15 * 24)
