"""What is said of a stretch at the breast: faded since when, still swallowing, or too little."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.special import gammaincinv, ndtri

from suffice.clinical.feed.course import Stretch
from suffice.clinical.units import SECONDS_PER_MINUTE
from suffice.inference.feed.filtering import Passed, passed
from suffice.inference.feed.model import FeedParameters, Floats, feed_model


class State(StrEnum):
    """What the swallows of a stretch say as of its last second."""

    TOO_LITTLE = "too little"
    SWALLOWING = "swallowing"
    PERHAPS = "perhaps"
    """A lull between two ejections looks just like the end of swallowing."""
    FADED = "faded"


@dataclass(frozen=True)
class Between:
    """A value with its interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class StretchReading:
    """The reading of one stretch.

    Attributes:
        state: What is said.
        faded_fraction: Chance that swallowing has faded for good.
        faded_ms: When it did, after the beginning of the feed; None unless it has.
        effective_s: Seconds of swallowing: of the ejections, their short pauses included.
        swallows_per_minute: Recorded in the last minute that was watched; None before that.
        taps_count: Swallows counted.
        left_out_count: Taps on the record that are not counted.
        watched_s: Seconds watched.
        on_s: Seconds on the side, interruptions left out.
    """

    state: State
    faded_fraction: float
    faded_ms: Between | None
    effective_s: Between
    swallows_per_minute: Between | None
    taps_count: int
    left_out_count: int
    watched_s: int
    on_s: int


def read_stretch(stretch: Stretch, parameters: FeedParameters) -> StretchReading:
    """What a stretch says as of its last whole second.

    Never anything about mL: counts of swallows do not tell them.
    """
    after = passed(stretch, feed_model(parameters))
    state = _state(stretch, after, parameters)
    return StretchReading(
        state=state,
        faded_fraction=after.faded,
        faded_ms=_faded_ms(stretch, after, parameters) if state is State.FADED else None,
        effective_s=_effective(stretch, after, parameters),
        swallows_per_minute=_rate(stretch, parameters),
        taps_count=stretch.taps_count,
        left_out_count=stretch.left_out_count,
        watched_s=int(stretch.is_watched.sum()),
        on_s=stretch.seconds,
    )


def _state(stretch: Stretch, after: Passed, parameters: FeedParameters) -> State:
    if stretch.taps_count < parameters.least_count.value:
        return State.TOO_LITTLE
    if after.faded > parameters.faded_above_fraction.value:
        return State.FADED
    if after.faded < parameters.swallowing_below_fraction.value:
        return State.SWALLOWING
    return State.PERHAPS


def _faded_ms(stretch: Stretch, after: Passed, parameters: FeedParameters) -> Between:
    """Median and interval of the second of fading, on the clock of the feed."""
    rising: Floats = after.faded_at().cumsum()
    low, high = _levels(parameters)
    wanted = np.array([0.5, low, high]) * rising[-1]
    value, least, most = stretch.clock_ms[np.searchsorted(rising, wanted)]
    return Between(float(value), float(least), float(most))


def _effective(stretch: Stretch, after: Passed, parameters: FeedParameters) -> Between:
    """Mean and interval of the effective seconds; what the model may be wrong by is added.

    That is the less the more swallows there are to go by.
    """
    least = parameters.least_count.value
    own_sd_s = parameters.effective_sd_s.value * least / max(stretch.taps_count, least)
    half = float(ndtri(_levels(parameters)[1])) * np.hypot(after.effective_sd_s, own_sd_s)
    value, most = after.effective_s, float(stretch.seconds)
    return Between(value, max(value - half, 0.0), min(value + half, most))


def _rate(stretch: Stretch, parameters: FeedParameters) -> Between | None:
    """Swallows a minute in the last watched minute, gamma interval of an overdispersed count."""
    watched = stretch.taps[stretch.is_watched][-int(parameters.rate_window_s.value) :]
    if len(watched) < parameters.rate_window_s.value:
        return None
    spread = parameters.rate_spread_ratio.value
    shape = (watched.sum() + 0.5) / spread
    least, most = gammaincinv(shape, _levels(parameters)) * spread
    per_minute = SECONDS_PER_MINUTE / len(watched)
    return Between(
        float(watched.sum() * per_minute), float(least * per_minute), float(most * per_minute)
    )


def _levels(parameters: FeedParameters) -> tuple[float, float]:
    level = parameters.level_fraction.value
    return (1 - level) / 2, (1 + level) / 2
