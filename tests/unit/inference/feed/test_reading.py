"""What is said of a stretch, on both sides of each limit."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from clinical_constants import constant
from feeds import PARAMETERS, feed_that_fades, stretch
from suffice.inference.feed.filtering import passed
from suffice.inference.feed.model import FeedParameters, feed_model
from suffice.inference.feed.reading import State, read_stretch


def with_values(**values: float) -> FeedParameters:
    return msgspec.structs.replace(
        PARAMETERS, **{name: constant(value) for name, value in values.items()}
    )


def test_swallowing_that_stops_has_faded_about_then() -> None:
    """Milk flows from second 30 to 270; sources in the content's topic watched_feed."""
    found = read_stretch(stretch(feed_that_fades()), PARAMETERS)
    assert found.state is State.FADED
    assert found.faded_ms is not None
    assert found.faded_ms.low <= found.faded_ms.value <= found.faded_ms.high
    assert 250_000 < found.faded_ms.value < 290_000
    assert found.effective_s.low < 240 < found.effective_s.high


def test_a_feed_that_goes_on_is_still_swallowing() -> None:
    found = read_stretch(stretch(feed_that_fades(quiet_s=0)), PARAMETERS)
    assert (found.state, found.faded_ms) == (State.SWALLOWING, None)


def test_a_short_silence_may_be_a_lull() -> None:
    found = read_stretch(stretch(feed_that_fades(quiet_s=70)), PARAMETERS)
    assert found.state is State.PERHAPS


@pytest.mark.parametrize(("least", "state"), [(83, State.FADED), (84, State.TOO_LITTLE)])
def test_below_the_least_count_nothing_is_read(least: int, state: State) -> None:
    taps = feed_that_fades()
    assert sum(taps) == 83
    assert read_stretch(stretch(taps), with_values(least_count=least)).state is state


def test_the_limits_are_those_of_the_content() -> None:
    feed = stretch(feed_that_fades())
    chance = read_stretch(feed, PARAMETERS).faded_fraction
    above = with_values(faded_above_fraction=chance)
    assert read_stretch(feed, above).state is State.PERHAPS
    below = with_values(faded_above_fraction=1, swallowing_below_fraction=chance + 1e-9)
    assert read_stretch(feed, below).state is State.SWALLOWING


def test_the_interval_of_the_effective_time_stays_within_the_side() -> None:
    short = read_stretch(stretch([1, 0] * 10), PARAMETERS)
    assert short.effective_s.low == 0
    assert short.effective_s.high <= 20


@pytest.mark.parametrize("times", [1, 2, 4])
def test_the_more_swallows_the_less_the_effective_time_may_be_wrong_by(times: int) -> None:
    """30 s where a side has as few swallows as are read (here 83), and in proportion below."""
    feed = stretch(feed_that_fades())
    least = 83 / times
    found = read_stretch(feed, with_values(least_count=least)).effective_s
    after = passed(feed, feed_model(PARAMETERS))
    half = 1.2815515655446004 * np.hypot(after.effective_sd_s, 30 / times)
    assert found.high - found.value == pytest.approx(half)


def test_the_rate_is_that_of_the_last_watched_minute() -> None:
    taps = [1] * 100 + [1, 0] * 30 + [0] * 50
    found = read_stretch(stretch(taps, away=range(160, 210)), PARAMETERS).swallows_per_minute
    assert found is not None
    assert found.value == pytest.approx(30)
    assert found.low < 30 < found.high


def test_no_rate_before_a_minute_was_watched() -> None:
    assert read_stretch(stretch([1] * 60), PARAMETERS).swallows_per_minute is not None
    assert read_stretch(stretch([1] * 59), PARAMETERS).swallows_per_minute is None
    assert (
        read_stretch(stretch([1, 0] * 31, away=[1, 3, 5]), PARAMETERS).swallows_per_minute is None
    )
    assert read_stretch(stretch([]), PARAMETERS).swallows_per_minute is None


def test_what_was_watched_is_said() -> None:
    found = read_stretch(stretch([1, 0, 0, 1], away=[1]), PARAMETERS)
    assert (found.taps_count, found.watched_s, found.on_s) == (2, 3, 4)
