"""Where sleep can begin, what it leaves undone, and which shapes a feed has."""

from __future__ import annotations

import numpy as np

from day_cases import PARAMETERS, a_case
from suffice.clinical.reading.hours import hours_of
from suffice.plan.schedule_model import DayModel, night_of


def shapes(model: DayModel) -> set[str]:
    return {
        ", ".join(f"{one.what}{'' if one.is_parent else ' by helper'}" for one in start.shape.parts)
        for start in model.starts
    }


def test_a_feed_has_a_shape_for_each_way_it_can_be_given() -> None:
    alone = shapes(DayModel(a_case(), PARAMETERS))
    assert alone == {"breast, milk", "breast, milk, express"}
    helped = shapes(DayModel(a_case(helpers=hours_of("0-24"), milk_feeds_count=4), PARAMETERS))
    assert helped - alone == {
        "breast",
        "breast, express",
        "breast, milk by helper",
        "breast, milk by helper, express",
        "bottle by helper",
        "bottle by helper, express",
    }


def test_nothing_of_the_parent_begins_while_away_but_a_session_where_it_can() -> None:
    model = DayModel(a_case(away=hours_of("8-12"), expresses_away=True), PARAMETERS)
    away = {start.step for start in model.starts if 32 <= start.step < 48}
    assert away
    assert all(not one.shape.is_feed for one in model.starts if one.step in away)
    no_session = DayModel(a_case(away=hours_of("8-12")), PARAMETERS)
    assert all(not 32 <= one.step < 48 for one in no_session.starts)


def test_sleep_ends_where_a_feed_can_begin_or_its_hours_end() -> None:
    model = DayModel(a_case(sleep=hours_of("22:15-3:15")), PARAMETERS)
    # Four hours: until 02:30 or 03:00 on the half hour, or until 03:15.
    assert model.sleeps(16) == [90, 92, 93]
    assert model.sleeps(21) == []


def test_awake_are_all_acts_that_touch_the_sleep() -> None:
    model = DayModel(a_case(), PARAMETERS)
    kept = model.awake(40, 4)
    assert kept
    for one in model.starts:
        own = {
            (one.step + part.at + step) % model.day
            for part in one.shape.parts
            for step in range(part.steps)
        }
        assert (one.column in kept) == bool(own & {40, 41, 42, 43})


def test_the_night_is_that_of_the_content() -> None:
    assert str(night_of(PARAMETERS)) == "22:00-06:00"


def test_a_day_without_sleep_has_no_act_of_it() -> None:
    model = DayModel(a_case(), PARAMETERS)
    values = np.zeros(max(one.column for one in model.starts) + 1)
    assert model.acts(values, 40, 0) == ()
    (slept,) = model.acts(values, 40, 4)
    assert (slept.what, slept.minutes) == ("sleep", 4 * model.step_minutes)
