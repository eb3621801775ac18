"""The sums over all courses, and what a watcher is shown meanwhile."""

from __future__ import annotations

import numpy as np
from tools.validate.feeds import faded_online

from feeds import PARAMETERS, feed_that_fades, stretch
from suffice.inference.feed.filtering import passed
from suffice.inference.feed.model import feed_model

MODEL = feed_model(PARAMETERS)


def test_nothing_is_known_before_the_first_second() -> None:
    nothing = passed(stretch([]), MODEL)
    assert (nothing.faded, nothing.effective_s, nothing.effective_sd_s) == (0, 0, 0)
    assert np.isclose(nothing.states.sum(), 1)


def test_the_seconds_of_fading_sum_to_the_chance_of_having_faded() -> None:
    after = passed(stretch(feed_that_fades()), MODEL)
    assert np.isclose(after.faded_at().sum(), after.faded, rtol=1e-9)
    assert np.isclose(after.states.sum(), 1)


def test_what_is_shown_meanwhile_is_what_a_reading_of_so_far_says() -> None:
    taps = feed_that_fades()
    shown = faded_online([stretch(taps)], MODEL)[0]
    for seconds in (1, 17, 260, len(taps)):
        assert np.isclose(shown[seconds - 1], passed(stretch(taps[:seconds]), MODEL).faded)


def test_an_unwatched_second_is_not_a_silent_one() -> None:
    taps = feed_that_fades(quiet_s=90)
    away = range(len(taps) - 90, len(taps))
    assert passed(stretch(taps, away), MODEL).faded < passed(stretch(taps), MODEL).faded / 2


def test_more_taps_than_the_table_holds_break_nothing() -> None:
    assert np.isfinite(passed(stretch([0, 500, 0]), MODEL).states).all()


def test_a_day_of_silence_stays_finite() -> None:
    after = passed(stretch([1, 0] * 60 + [0] * 4000), MODEL)
    assert np.isfinite(after.faded_at()).all()
    assert after.faded > 0.99


def test_what_was_kept_of_earlier_readings_changes_no_bit() -> None:
    taps = feed_that_fades()
    fresh = passed(stretch(taps), feed_model.__wrapped__(PARAMETERS))
    for seconds in range(50, len(taps), 37):
        passed(stretch(taps[:seconds]), MODEL)
    again = passed(stretch(taps), MODEL)
    assert np.array_equal(fresh.states, again.states)
    assert np.array_equal(fresh.faded_at(), again.faded_at())
    assert (fresh.effective_s, fresh.effective_sd_s) == (again.effective_s, again.effective_sd_s)


def test_half_an_hour_of_swallows_stays_finite() -> None:
    """Without scales the joint chances would fall below the smallest number after ten minutes."""
    after = passed(stretch([1, 2] * 900), MODEL)
    assert np.isclose(after.states.sum(), 1)
    assert np.isfinite(after.faded_at()).all()
