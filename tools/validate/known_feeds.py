"""How well a watched feed could be read by who knows all but where it stands.

A filter that is told each infant's own rate, bursts and pauses, what the watcher misses, and the laws of
the world itself: how many ejections there are and how long ejections and lulls last. Nobody at a bedside
knows any of it; what this one cannot tell, a model that must learn it can hardly tell.

Lengths stand as chains of equal stages, whose spread is that of the world's laws: eight stages of an
ejection (spread .35 of its mean), two of a lull (.71; the world's logarithms spread by .6) and of the wait.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import exp, factorial
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array
from scipy.special import gammaln
from tools.validate.feeds import FeedWorld, Floats, SimulatedFeed

from suffice.inference.feed.model import MOST_TAPS, UNWATCHED

MOST_EJECTIONS = 6
MORE_EJECTIONS = 1.5
EJECTION_STAGES, SHORT_STAGES = 8, 2
EJECTION_LOG_SD, LULL_LOG_SD = 0.35, 0.6


class _Stage(NamedTuple):
    """A stage of a side: whether milk flows, how long it lasts (s), and where it may lead."""

    flows: bool
    mean_s: float
    into_s: float
    """Middle of the stage after the beginning of the ejection."""
    to: tuple[tuple[int, float], ...]


def faded_knowing(feeds: Sequence[SimulatedFeed], world: FeedWorld) -> Iterator[Floats]:
    """Chance of 'faded' after each second, for each side of the first world."""
    stages = list(_stages(world))
    for feed in feeds:
        step, taps = _steps(stages, feed), _taps(stages, feed, world)
        watched = feed.stretch.is_watched
        tapped = np.where(watched, np.minimum(feed.stretch.taps, MOST_TAPS), UNWATCHED)
        state = np.zeros(step.shape[0])
        state[:2] = 0.5
        found = np.zeros(len(tapped))
        for second, count in enumerate(tapped):
            state = (step @ state if second else state) * taps[count]
            state = state / state.sum()
            found[second] = state[-2:].sum()
        yield found


def _stages(world: FeedWorld) -> Iterator[_Stage]:
    lasts = _last_chances()
    lull_s = world.lull_s * exp(LULL_LOG_SD**2 / 2)
    size = EJECTION_STAGES + SHORT_STAGES
    # No lull follows the last ejection there can be.
    faded = MOST_EJECTIONS * size
    for nth in range(SHORT_STAGES):
        yield _Stage(flows=False, mean_s=25.0, into_s=0.0, to=((nth + 1, 1.0),))
    for place, last in enumerate(lasts):
        begin = SHORT_STAGES + place * size
        part_s = (150 if place == 0 else 80) * exp(EJECTION_LOG_SD**2 / 2) / EJECTION_STAGES
        for nth in range(EJECTION_STAGES - 1):
            yield _Stage(
                flows=True, mean_s=part_s, into_s=(nth + 0.5) * part_s, to=((begin + nth + 1, 1.0),)
            )
        to = ((faded, last), (begin + EJECTION_STAGES, 1 - last))
        ends = to if place < MOST_EJECTIONS - 1 else ((faded, 1.0),)
        yield _Stage(flows=True, mean_s=part_s, into_s=(EJECTION_STAGES - 0.5) * part_s, to=ends)
        for nth in range(SHORT_STAGES if place < MOST_EJECTIONS - 1 else 0):
            following = begin + EJECTION_STAGES + nth + 1
            yield _Stage(
                flows=False, mean_s=lull_s / SHORT_STAGES, into_s=0.0, to=((following, 1.0),)
            )
    yield _Stage(flows=False, mean_s=np.inf, into_s=0.0, to=())


def _last_chances() -> list[float]:
    """Of each ejection the chance that none follows: 1 + Poisson, at most six."""
    shares = [
        exp(-MORE_EJECTIONS) * MORE_EJECTIONS**n / factorial(n) for n in range(MOST_EJECTIONS)
    ]
    shares[-1] = 1 - sum(shares[:-1])
    return [shares[n] / sum(shares[n:]) for n in range(MOST_EJECTIONS)]


def _steps(stages: Sequence[_Stage], feed: SimulatedFeed) -> csr_array:
    """Chance of going from a stage and phase (burst, pause) to the next, (to, from)."""
    own = feed.own.lengths
    phases = {True: _phase(15 * own[0], 6 * own[1]), False: _phase(6 * own[2], 15 * own[3])}
    step = np.zeros((2 * len(stages), 2 * len(stages)))
    for here, stage in enumerate(stages):
        leaves = 1 / stage.mean_s
        for there, chance in ((here, 1 - leaves), *((to, leaves * part) for to, part in stage.to)):
            block = chance * phases[stages[there].flows]
            step[2 * here : 2 * here + 2, 2 * there : 2 * there + 2] += block
    return csr_array(step.T)


def _phase(burst_s: float, pause_s: float) -> Floats:
    return np.array([[1 - 1 / burst_s, 1 / burst_s], [1 / pause_s, 1 - 1 / pause_s]])


def _taps(stages: Sequence[_Stage], feed: SimulatedFeed, world: FeedWorld) -> Floats:
    """Chance of a number of taps in a second, (counts, stages and phases); the last row: not watched."""
    expected = np.full(2 * len(stages), world.extra_per_minute / 60)
    falls = [0.75 + 0.55 * exp(-one.into_s / 60) if one.flows else feed.own.quiet for one in stages]
    expected[::2] += world.heard * feed.own.rate * np.array(falls)
    count = np.arange(MOST_TAPS + 1)[:, None]
    chances = np.exp(count * np.log(expected) - expected - gammaln(count + 1))
    return np.concatenate([chances, np.ones((1, len(expected)))])
