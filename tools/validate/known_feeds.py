"""How well a watched feed could be read by who knows all but where it stands.

A filter that is told each infant's own rate, bursts and pauses, what the watcher misses, and the laws of
the first world themselves: how many ejections there are, how long waits, ejections and lulls last, that
swallows come at gamma intervals, and when infants come off. Nobody at a bedside knows any of it; what this
one cannot tell from the taps of each second, no reading of them can.

The mode (waiting, an ejection, a lull, faded) goes with the seconds it has lasted, so lengths follow the
world's laws and not a chain's; within a second swallows run in continuous time.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, factorial
from typing import NamedTuple

import numpy as np
from scipy.linalg import expm
from scipy.stats import gamma, lognorm
from tools.validate.feeds import FeedWorld, Floats, SimulatedFeed

MOST_EJECTIONS = 6
MORE_EJECTIONS = 1.5
WAIT_S, EJECTION_S, STAY_S = 180, 560, 1500
LULL_SPREADS = 3.8
"""Longest lull that is followed, in spreads of its logarithm."""
BIN_S = 10
"""Seconds of an ejection over which its rate stands for one."""
STAGES = 4
"""Of a gamma interval between two swallows; the first phase is the pause."""
PHASES = 1 + STAGES
MOST_IN_A_SECOND = 6
STAYS = 0.7


class Known(NamedTuple):
    """What can be known of one side.

    Attributes:
        shown: Chance of 'faded' after each second, from what came before it.
        faded_in: Chance that it faded in each second, once the infant is off; sums to 1.
    """

    shown: Floats
    faded_in: Floats


class _Laws(NamedTuple):
    """Chance that a mode ends in a second, by the seconds that it has lasted."""

    wait: Floats
    first: Floats
    later: Floats
    lull: Floats
    off: Floats
    lasts: Floats
    """Of each ejection the chance that none follows."""


class _Modes(NamedTuple):
    """Chances by the seconds that a mode has lasted, and by phase."""

    wait: Floats
    flow: Floats
    """(ejections, seconds, phases)"""
    lull: Floats
    """(lulls, seconds, phases)"""
    faded: Floats

    def total(self) -> float:
        return float(sum(one.sum() for one in self))


def known(feed: SimulatedFeed, world: FeedWorld) -> Known:
    """What can be known of one side of the first world."""
    laws = _laws(world)
    in_flow, in_rest = _taps(feed, world)
    counts = _counts(feed)
    modes = _begin(laws)
    shown, scale = np.zeros(len(counts)), np.zeros(len(counts))
    entered = np.zeros((len(counts), PHASES))
    for second, count in enumerate(counts):
        modes, into = _on(_heard(modes, in_flow[count], in_rest[count]), laws)
        total = modes.total()
        modes = _Modes(*(one / total for one in modes))
        entered[second], scale[second] = into / total, np.log(total)
        shown[second] = modes.faded.sum()
    return Known(shown, _faded_in(entered, scale, in_rest[counts], laws))


def _counts(feed: SimulatedFeed) -> Sequence[int]:
    """Taps of each second; the last row of the tables stands for one that nobody watched."""
    taps = np.minimum(feed.stretch.taps, MOST_IN_A_SECOND)
    return [int(one) for one in np.where(feed.stretch.is_watched, taps, MOST_IN_A_SECOND + 1)]


def _laws(world: FeedWorld) -> _Laws:
    lull = lognorm(0.6, scale=world.lull_s)
    longest = int(world.lull_s * exp(0.6 * LULL_SPREADS))
    at = np.arange(STAY_S + 1)
    stays = 1 - STAYS * gamma(3, scale=110).cdf(at) - (1 - STAYS) * np.clip((at - 1) / 7, 0, 1)
    return _Laws(
        _ending(gamma(2, scale=25).sf(np.arange(WAIT_S + 1))),
        _ending(lognorm(0.35, scale=150).sf(np.arange(EJECTION_S + 1))),
        _ending(lognorm(0.35, scale=80).sf(np.arange(EJECTION_S + 1))),
        _ending(lull.sf(np.arange(longest + 1))),
        _ending(stays),
        np.array(_last_chances()),
    )


def _ending(lasts_longer: Floats) -> Floats:
    """Chance of ending in each second once it is reached; in the last one that is followed, for certain."""
    ends = 1 - lasts_longer[1:] / np.maximum(lasts_longer[:-1], 1e-300)
    ends[-1] = 1.0
    return np.asarray(ends)


def _last_chances() -> list[float]:
    """Of each ejection the chance that none follows: 1 + Poisson, at most six."""
    shares = [
        exp(-MORE_EJECTIONS) * MORE_EJECTIONS**n / factorial(n) for n in range(MOST_EJECTIONS)
    ]
    shares[-1] = 1 - sum(shares[:-1])
    return [shares[n] / sum(shares[n:]) for n in range(MOST_EJECTIONS)]


def _begin(laws: _Laws) -> _Modes:
    wait = np.zeros((len(laws.wait), PHASES))
    wait[0, :2] = 0.5
    return _Modes(
        wait,
        np.zeros((MOST_EJECTIONS, len(laws.first), PHASES)),
        np.zeros((MOST_EJECTIONS - 1, len(laws.lull), PHASES)),
        np.zeros((len(laws.off), PHASES)),
    )


def _heard(modes: _Modes, in_flow: Floats, in_rest: Floats) -> _Modes:
    """Through a second with a number of taps."""
    flow = modes.flow.reshape(MOST_EJECTIONS, -1, BIN_S, PHASES) @ in_flow
    return _Modes(
        modes.wait @ in_rest,
        flow.reshape(modes.flow.shape),
        modes.lull @ in_rest,
        modes.faded @ in_rest,
    )


def _on(modes: _Modes, laws: _Laws) -> tuple[_Modes, Floats]:
    """Modes end or last a second longer; and what came into 'faded', by phase."""
    begins = np.einsum("sp,s->p", modes.wait, laws.wait)
    ends = np.concatenate([laws.first[None], np.repeat(laws.later[None], MOST_EJECTIONS - 1, 0)])
    ended = np.einsum("nsp,ns->np", modes.flow, ends)
    returns = np.einsum("nsp,s->np", modes.lull, laws.lull)
    into = (ended * laws.lasts[:, None]).sum(axis=0)
    lulls = ended[:-1] * (1 - laws.lasts[:-1, None])
    flow = _older(modes.flow, ends)
    flow[0, 0], flow[1:, 0] = _anew(begins), _anew(returns)
    lull = _older(modes.lull, np.broadcast_to(laws.lull, modes.lull.shape[:2]))
    lull[:, 0] = _anew(lulls)
    faded = _older(modes.faded, laws.off)
    faded[0] = _anew(into)
    return _Modes(_older(modes.wait, laws.wait), flow, lull, faded), faded[0]


def _older(mode: Floats, ends: Floats) -> Floats:
    """What has not ended, a second older."""
    found = np.zeros_like(mode)
    found[..., 1:, :] = (mode * (1 - ends)[..., None])[..., :-1, :]
    return found


def _anew(phases: Floats) -> Floats:
    """A burst goes on into the next mode, and its swallows begin anew."""
    found = np.zeros_like(phases)
    found[..., 0] = phases[..., 0]
    found[..., 1] = phases[..., 1:].sum(axis=-1)
    return found


def _faded_in(entered: Floats, scale: Floats, taps: Floats, laws: _Laws) -> Floats:
    """Chance that the fade came in each second: once the infant is off, it has come."""
    count = len(entered)
    off = np.diff(np.concatenate([[0.0], 1 - np.cumprod(1 - laws.off)]))
    upto = np.cumsum(scale)
    after, behind = np.ones(PHASES), 0.0
    found = np.full(count, -np.inf)
    for second in range(count - 1, -1, -1):
        stayed = count - 1 - second
        chance = float(entered[second] @ after) * off[min(stayed, len(off) - 1)]
        found[second] = np.log(max(chance, 1e-300)) + upto[second] + behind
        after = taps[second] @ after
        behind += np.log(after.max())
        after = after / after.max()
    chances = np.exp(found - found.max())
    return np.asarray(chances / chances.sum())


def _taps(feed: SimulatedFeed, world: FeedWorld) -> tuple[Floats, Floats]:
    """Steps of the phases through a second with so many taps; the last row: with any.

    Returns:
        In an ejection, (counts, bins, from, to), and outside one, (counts, from, to).
    """
    rate, quiet, own = feed.own
    into = np.arange(BIN_S / 2, EJECTION_S, BIN_S)
    rates = rate * (0.75 + 0.55 * np.exp(-into / 60))
    flow = np.stack([_step(world, one, 15 * own[0], 6 * own[1]) for one in rates], axis=1)
    return flow, _step(world, rate * quiet, 6 * own[2], 15 * own[3])


def _step(world: FeedWorld, rate: float, burst_s: float, pause_s: float) -> Floats:
    silent, tap = np.zeros((2, PHASES, PHASES))
    silent[0, 1] = 1 / pause_s
    silent[1:, 0] = 1 / burst_s
    for stage in range(1, STAGES):
        silent[stage, stage + 1] = STAGES * rate
    silent[STAGES, 1] = STAGES * rate * (1 - world.heard)
    tap[STAGES, 1] = STAGES * rate * world.heard
    tap += np.eye(PHASES) * world.extra_per_minute / 60
    silent -= np.diag(silent.sum(axis=1) + tap.sum(axis=1))
    # The matrix of phases and of the taps so far: each tap goes a block to the right.
    size = MOST_IN_A_SECOND + 1
    whole = np.kron(np.eye(size), silent) + np.kron(np.eye(size, k=1), tap)
    blocks = expm(whole)[:PHASES].reshape(PHASES, size, PHASES).transpose(1, 0, 2)
    return np.concatenate([blocks, blocks.sum(axis=0)[None]])
