"""The bound of a watched feed: a filter that knows the infant and the laws of the simulated world."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tools.validate.feeds import FeedWorld, draw
from tools.validate.known_feeds import known


@pytest.mark.parametrize("world", [FeedWorld(), FeedWorld(away_s=60.0)], ids=["term", "away"])
def test_who_knows_all_is_sure_of_a_fade_once_it_is_long_past(world: FeedWorld) -> None:
    rng = np.random.default_rng(4)
    feed = draw(world, rng)
    while feed.stretch.seconds - feed.faded_s < 240:
        feed = draw(world, rng)
    found = known(feed, world)
    assert found.faded_in.sum() == pytest.approx(1)
    assert ((found.shown >= 0) & (found.shown <= 1 + 1e-9)).all()
    assert found.shown[int(feed.faded_s) - 30] < 0.5 < 0.95 < found.shown[-1]
    assert abs(int(np.searchsorted(found.faded_in.cumsum(), 0.5)) - feed.faded_s) < 60


def test_without_a_tap_it_knows_only_that_an_infant_that_is_off_had_faded() -> None:
    world = FeedWorld(heard=0.0, extra_per_minute=0.0)
    feed = draw(world, np.random.default_rng(1))
    assert feed.stretch.taps.sum() == 0
    found = known(feed, world)
    # Nothing heard says nothing of rates: the chance follows from the lengths alone, whoever the infant is.
    other = known(replace(feed, own=feed.own._replace(rate=2.0)), world)
    np.testing.assert_allclose(found.shown, other.shown, atol=1e-9)
    assert found.faded_in.sum() == pytest.approx(1)
