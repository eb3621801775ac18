"""The hidden Markov model of one stretch at the breast, and the particles that stand for its doubt.

Five modes: milk is waited for, flows (the first ejection, or a later one), rests between two
ejections, has faded for good. In each the infant goes through bursts and pauses, so there are ten
states, and a step is a second. Recorded swallows of a second are Poisson: `rate` in a burst of an
ejection, `quiet` of it in the bursts of the other modes, and a little everywhere for taps that were
none. The first ejection is less often the last than a later one, so a lull after it is less often
taken for the end.

How fast an infant swallows, how long its bursts, pauses and ejections last and how far the rate
falls differ from infant to infant, so the model is asked under 128 sets of them (particles), spread
evenly over their prior; each set counts for as much as it foresaw what was recorded.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln, ndtri

from suffice.clinical.parameters import Parameters
from suffice.clinical.units import SECONDS_PER_MINUTE
from suffice.clinical.working import Constant

Floats = NDArray[np.float64]

PARTICLES = 128
DIFFERS = ("rate", "quiet", "burst", "pause", "quiet burst", "quiet pause", "ejection")
"""What differs from infant to infant, each one dimension of the particles."""
WAIT, FIRST, LATER, REST, FADED = range(5)
MODES = 5
FLOWING = (FIRST, LATER)
BURST, PAUSE = range(2)
STATES = 2 * MODES
"""State of a mode and a phase: twice the mode, plus the phase."""
FLOW_STATES, FADED_STATES = slice(2, 6), slice(8, 10)
MOST_TAPS = 24
"""Taps in one second above which one more says nothing new; also the size of the table."""
UNWATCHED = MOST_TAPS + 1
"""The row of the table for a second in which nobody watched: it says nothing."""
LEAST_STAY = 2.0
"""Steps that any phase or mode lasts on average: a second cannot hold two of them."""


class FeedParameters(Parameters, frozen=True, kw_only=True):
    """The rates and lengths of a feed, and when its reading says what.

    A spread called `log_sd` is the SD of the natural logarithm.
    """

    topic: ClassVar[str] = "watched_feed"

    swallows_count_per_minute: Constant
    """Median rate of recorded swallows in the bursts of an ejection."""
    swallows_log_sd: Constant
    quiet_fraction: Constant
    """Rate outside an ejection, as a part of that rate."""
    quiet_sd_fraction: Constant
    least_quiet_fraction: Constant
    most_quiet_fraction: Constant
    false_count_per_minute: Constant
    """Taps that were no swallow."""
    burst_s: Constant
    pause_s: Constant
    quiet_burst_s: Constant
    quiet_pause_s: Constant
    burst_log_sd: Constant
    quiet_burst_log_sd: Constant
    ejection_s: Constant
    ejection_log_sd: Constant
    wait_s: Constant
    lull_s: Constant
    first_last_fraction: Constant
    """Chance that the first ejection is the only one."""
    last_fraction: Constant
    """Chance that a later ejection is the last."""
    active_at_once_fraction: Constant
    """Chance that milk already flows when the infant goes on."""
    faded_above_fraction: Constant
    """Chance of 'faded' from which the other side is offered."""
    swallowing_below_fraction: Constant
    """Chance of 'faded' up to which swallowing is said to go on."""
    least_count: Constant
    """Swallows below which nothing is read."""
    same_swallow_s: Constant
    """A tap that comes less than this after one that counts is of the same swallow."""
    most_swallows_count: Constant
    """Taps in a span of `most_swallows_s` that an infant could still swallow."""
    most_swallows_s: Constant
    effective_sd_s: Constant
    """What the model itself may be wrong by in the effective time of a side with as few swallows as are read;
    with more it falls in proportion."""
    rate_window_s: Constant
    rate_spread_ratio: Constant
    """Variance of a count over its mean."""
    level_fraction: Constant
    """Level of the intervals."""
    early_offer_fraction: Constant
    """Sides that get the offer of the other one too early, in simulated feeds."""
    early_offer_long_lulls_fraction: Constant
    """The same where lulls are long."""


@dataclass(frozen=True, eq=False)
class FeedModel:
    """The particles.

    Attributes:
        start: Chance of each state in the first second, (states, particles); sums to 1.
        step: Chance of going from a state to the next, (from, to, particles).
        taps: Chance of a number of taps in a second, (counts, states, particles); its last row is
            1: nobody watched.
    """

    start: Floats
    step: Floats
    taps: Floats


@lru_cache(maxsize=4)
def feed_model(parameters: FeedParameters) -> FeedModel:
    """The particles for a set of parameters; kept, since every feed needs the same."""
    p = parameters
    spread = ndtri(_even(PARTICLES, len(DIFFERS)))
    per_s = p.swallows_count_per_minute.value / SECONDS_PER_MINUTE
    rate = per_s * np.exp(p.swallows_log_sd.value * spread[0])
    quiet = np.clip(
        p.quiet_fraction.value + p.quiet_sd_fraction.value * spread[1],
        p.least_quiet_fraction.value,
        p.most_quiet_fraction.value,
    )
    lively, slow = p.burst_log_sd.value, p.quiet_burst_log_sd.value
    flow_phase = _phase(
        p.burst_s.value * np.exp(lively * spread[2]),
        p.pause_s.value * np.exp(slow * spread[3]),
    )
    quiet_phase = _phase(
        p.quiet_burst_s.value * np.exp(lively * spread[4]),
        p.quiet_pause_s.value * np.exp(slow * spread[5]),
    )
    ejection = np.maximum(p.ejection_s.value * np.exp(p.ejection_log_sd.value * spread[6]), 2)
    modes = _modes(p, ejection)
    phases = [flow_phase if mode in FLOWING else quiet_phase for mode in range(MODES)]
    shares = [_shares(phase) for phase in phases]
    step = np.empty((PARTICLES, STATES, STATES))
    for now in range(MODES):
        for then in range(MODES):
            # Whoever stays goes on with its burst or pause; a new mode begins with its usual share.
            phase = phases[now] if now == then else shares[then][:, None, :].repeat(2, axis=1)
            block = modes[:, now, then, None, None] * phase
            step[:, 2 * now : 2 * now + 2, 2 * then : 2 * then + 2] = block
    start = np.zeros((PARTICLES, STATES))
    at_once = p.active_at_once_fraction.value
    start[:, :2] = (1 - at_once) * shares[WAIT]
    start[:, 2:4] = at_once * shares[FIRST]
    return FeedModel(
        start=np.ascontiguousarray(start.T) / PARTICLES,
        step=np.ascontiguousarray(step.transpose(1, 2, 0)),
        taps=_taps(p, rate, quiet),
    )


def _even(count: int, dimensions: int) -> Floats:
    """Points spread evenly over the unit cube, (dimensions, count), strictly inside it.

    An additive recurrence on powers of the generalised golden ratio (Roberts 2018).
    """
    ratio = 2.0
    for _ in range(64):
        ratio = (1 + ratio) ** (1 / (dimensions + 1))
    powers = ratio ** -np.arange(1, dimensions + 1)
    return np.asarray((0.5 + powers[:, None] * np.arange(1, count + 1)) % 1)


def _phase(burst_s: Floats, pause_s: Floats) -> Floats:
    """Steps between burst and pause, (particles, from, to)."""
    ends, begins = 1 / np.maximum(burst_s, LEAST_STAY), 1 / np.maximum(pause_s, LEAST_STAY)
    rows = [[1 - ends, ends], [begins, 1 - begins]]
    return np.asarray(np.moveaxis(np.array(rows), 2, 0))


def _shares(phase: Floats) -> Floats:
    """Share of bursts and of pauses in the long run, (particles, 2)."""
    both = np.stack([phase[:, PAUSE, BURST], phase[:, BURST, PAUSE]], axis=1)
    return np.asarray(both / both.sum(axis=1, keepdims=True))


def _modes(p: FeedParameters, ejection_s: Floats) -> Floats:
    """Steps between the modes, (particles, from, to)."""
    modes = np.zeros((PARTICLES, MODES, MODES))
    for mode, dwell_s, then in ((WAIT, p.wait_s.value, FIRST), (REST, p.lull_s.value, LATER)):
        modes[:, mode, then] = 1 / max(dwell_s, LEAST_STAY)
        modes[:, mode, mode] = 1 - 1 / max(dwell_s, LEAST_STAY)
    for mode, last in ((FIRST, p.first_last_fraction.value), (LATER, p.last_fraction.value)):
        modes[:, mode, mode] = 1 - 1 / ejection_s
        modes[:, mode, FADED] = last / ejection_s
        modes[:, mode, REST] = (1 - last) / ejection_s
    modes[:, FADED, FADED] = 1
    return modes


def _taps(p: FeedParameters, rate: Floats, quiet: Floats) -> Floats:
    """Chance of 0, 1, 2 ... taps in a second, and of anything, (counts, states, particles)."""
    expected = np.full((STATES, PARTICLES), p.false_count_per_minute.value / SECONDS_PER_MINUTE)
    expected[::2] += np.stack([rate if mode in FLOWING else quiet * rate for mode in range(MODES)])
    count = np.arange(MOST_TAPS + 1)[:, None, None]
    chances = np.exp(count * np.log(expected) - expected - gammaln(count + 1))
    return np.concatenate([chances, np.ones((1, STATES, PARTICLES))])
