"""What a plan says of expressing, by what it is for, and the minutes of its day."""

from __future__ import annotations

import msgspec
import pytest

from suffice.knowledge.store import load
from suffice.plan.express import (
    AT_WORK,
    AWAY_UNTOLD,
    LITTLE,
    SORE,
    STOPPING,
    Situation,
    day_minutes,
    expressing,
    is_over_a_day,
    minutes_words,
)
from suffice.plan.parameters import plan_parameters

PARAMETERS = plan_parameters(load())
WELL = Situation(
    problems=frozenset(),
    age_d=20,
    at_breast=True,
    is_supplemented=False,
    is_short=False,
    sessions_count=0,
)


def but(**fields: object) -> Situation:
    return msgspec.structs.replace(WELL, **fields)


@pytest.mark.parametrize(
    ("fields", "what", "count"),
    [
        ({}, None, None),
        ({"is_supplemented": True}, "build", 8),
        ({"is_short": True}, "build", 8),
        ({"problems": frozenset({"low_supply"})}, "build", 8),
        ({"problems": frozenset({"low_supply", "engorgement"})}, "relieve", None),
        ({"problems": frozenset({"engorgement"}), "is_short": True}, "relieve", None),
        ({"problems": frozenset({"stopping"}), "sessions_count": 5}, "wean", 4),
        ({"problems": frozenset({"stopping"})}, "wean", None),
        (
            {"problems": frozenset({"stopping", "mastitis_inflammatory"}), "sessions_count": 3},
            "keep",
            3,
        ),
        (
            {"problems": frozenset({"pump_dependent", "breast_abscess"}), "sessions_count": 8},
            "keep",
            8,
        ),
        ({"problems": frozenset({"excess_supply"}), "sessions_count": 6}, "relieve", None),
        ({"at_breast": False, "is_given_own": True, "age_d": 3}, "build", 8),
        ({"problems": frozenset({"breast_herpes"})}, "keep", 6),
        ({"is_supplemented": True, "is_chosen": True}, None, None),
        ({"away_h": 9.0, "feeds_count": 3}, "keep", 2),
        ({"away_h": 9.0, "feeds_count": 8}, "keep", 3),
        ({"at_breast": False}, None, None),
        ({"at_breast": False, "sessions_count": 5}, "keep", 6),
        # Who makes all of it in seven sessions is not sent down to six; more than build supply are not asked.
        ({"at_breast": False, "sessions_count": 7}, "keep", 7),
        ({"at_breast": False, "sessions_count": 11}, "keep", 8),
        ({"at_breast": False, "sessions_count": 5, "age_d": 10}, "build", 8),
        ({"at_breast": False, "problems": frozenset({"pump_dependent"})}, "build", 8),
    ],
)
def test_what_it_is_for_decides_how_often(
    fields: dict[str, object], what: str | None, count: int | None
) -> None:
    found = expressing(but(**fields), PARAMETERS)
    assert (found.what, found.sessions_count) == (what, count)
    assert found.says


@pytest.mark.parametrize(("age_d", "says_how_much"), [(27.9, False), (28.0, True)])
def test_how_much_is_left_at_home_is_said_from_four_weeks_on(
    age_d: float, says_how_much: bool
) -> None:
    """The amount for an hour is of infants from one month on; the family's page has the same limit."""
    found = expressing(but(away_h=9.0, feeds_count=8, age_d=age_d), PARAMETERS)
    amount = "{low} to {high}"
    assert any(amount in one.template for one in found.says) == says_how_much


def test_the_problems_it_asks_for_are_problems_of_the_content() -> None:
    assert {*SORE, *LITTLE, STOPPING} <= set(load().guide.problems)


def test_a_sore_breast_that_is_expressed_is_expressed_as_often_as_before() -> None:
    sore = but(problems=frozenset({"low_supply", "mastitis_bacterial"}), sessions_count=4)
    found = expressing(sore, PARAMETERS)
    assert "none extra, none dropped" in str(found.says)
    assert found.working is not None
    assert found.working.inputs[0].value == 4


def test_to_build_it_says_what_is_lost_below_the_least() -> None:
    said = [str(one) for one in expressing(but(is_short=True), PARAMETERS).says]
    assert said[0] == "After the feeds, 8 times in 24 h, 15 min with both sides together."
    assert "Fewer than 5 times is not likely to build supply." in said


def test_feed_top_up_and_pump_eight_times_takes_ten_hours() -> None:
    """8 x (30 + 15 + 25) + 30 minutes of cleaning."""
    day = day_minutes(
        feeds_count=8,
        at_breast=True,
        supplement_feeds_count=8,
        sessions_count=8,
        parameters=PARAMETERS,
    )
    assert day.inputs[0].value == 590
    assert str(minutes_words(day)) == "The plan takes about 9.8 h of 24 (590 min)."
    assert not is_over_a_day(day)


def test_more_minutes_than_a_day_has_are_seen() -> None:
    day = day_minutes(
        feeds_count=24,
        at_breast=True,
        supplement_feeds_count=24,
        sessions_count=24,
        parameters=PARAMETERS,
    )
    assert is_over_a_day(day)


def test_without_expressing_and_supplement_nothing_is_cleaned() -> None:
    day = day_minutes(
        feeds_count=8, at_breast=True, supplement_feeds_count=0, sessions_count=0,
        parameters=PARAMETERS,
    )  # fmt: skip
    assert day.inputs[0].value == 240


def test_back_at_work_is_no_plan_without_expressing_as_long_as_nobody_wrote_down_the_hours() -> (
    None
):
    at_work = but(problems=frozenset({AT_WORK}))
    assert expressing(at_work, PARAMETERS).says == (AWAY_UNTOLD,)
    known = msgspec.structs.replace(at_work, is_away_known=True)
    assert expressing(known, PARAMETERS).says != (AWAY_UNTOLD,)
    away = msgspec.structs.replace(known, away_h=9.0, feeds_count=9)
    assert (expressing(away, PARAMETERS).what, expressing(away, PARAMETERS).sessions_count) == (
        "keep",
        3,
    )
