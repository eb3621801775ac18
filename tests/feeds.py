"""Watched feeds for tests: events written short, and parameters of the tests' own."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from clinical_constants import constant
from suffice.clinical.feed.course import Stretch
from suffice.clinical.feed.event import FeedEvent
from suffice.inference.feed.model import FeedParameters

VALUES = {
    "swallows_count_per_minute": 25.2,
    "swallows_log_sd": 0.55,
    "quiet_fraction": 0.4,
    "quiet_sd_fraction": 0.13,
    "least_quiet_fraction": 0.08,
    "most_quiet_fraction": 0.8,
    "false_count_per_minute": 0.5,
    "burst_s": 15,
    "pause_s": 6,
    "quiet_burst_s": 6,
    "quiet_pause_s": 15,
    "burst_log_sd": 0.4,
    "quiet_burst_log_sd": 0.45,
    "ejection_s": 110,
    "ejection_log_sd": 0.3,
    "wait_s": 50,
    "lull_s": 55,
    "first_last_fraction": 0.25,
    "last_fraction": 0.5,
    "active_at_once_fraction": 0.2,
    "faded_above_fraction": 0.86,
    "swallowing_below_fraction": 0.3,
    "least_count": 30,
    "same_swallow_s": 0.3,
    "most_swallows_count": 18,
    "most_swallows_s": 10,
    "effective_sd_s": 30,
    "rate_window_s": 60,
    "rate_spread_ratio": 1.2,
    "level_fraction": 0.8,
    "early_offer_fraction": 0.06,
    "early_offer_long_lulls_fraction": 0.25,
}
PARAMETERS = FeedParameters(**{name: constant(value) for name, value in VALUES.items()})


def events(*written: str) -> tuple[FeedEvent, ...]:
    """Events such as '12.5 swallow': seconds and what."""
    split = [one.split() for one in written]
    return tuple(FeedEvent(at_ms=round(float(at) * 1000), what=what) for at, what in split)  # type: ignore[arg-type]


def stretch(taps: Iterable[int], away: Iterable[int] = ()) -> Stretch:
    """A stretch from its taps a second; `away` names the seconds that nobody watched."""
    counts = np.array(list(taps), dtype=np.intp)
    watched = np.ones(len(counts), dtype=np.bool_)
    watched[list(away)] = False
    clock = np.arange(len(counts) + 1, dtype=np.int64) * 1000
    return Stretch("left", 0, counts, watched, clock, is_over=False)


def feed_that_fades(active_s: int = 240, quiet_s: int = 240) -> list[int]:
    """Taps a second: bursts of ten seconds with a swallow every other second, then hardly any."""
    active = [1 if second % 15 < 10 and second % 2 == 0 else 0 for second in range(active_s)]
    return [0] * 30 + active + [1 if second % 75 == 70 else 0 for second in range(quiet_s)]
