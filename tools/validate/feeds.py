"""Feeds whose swallowing is known to the second: what the model of a watched feed is tried on.

Two worlds, drawn in continuous time and by other rules than the model's. In both an infant waits
for milk, swallows through ejections with lulls between them, and goes on or comes off after the
last. Swallows are renewals within bursts, never Poisson; a watcher misses some, adds some, and
looks away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.feed.course import EVERY_TAP, Countable, Stretch, counted
from suffice.inference.feed.model import FADED_STATES, MOST_TAPS, UNWATCHED, FeedModel

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class FeedWorld:
    """How feeds go in one world; lengths in seconds, spreads of logarithms.

    Attributes:
        per_minute: Swallows a minute in bursts of an ejection.
        lull_s: Median lull between two ejections.
        heard: Share of swallows that are tapped.
        extra_per_minute: Taps that were none.
        is_other: The second world: lulls by a gamma law, bursts by counts of swallows, a rate that
            rises and falls within an ejection, and a fade that takes half a minute.
        away_s: How long the watcher looks away, once in the feed; 0: never.
        is_marked: Whether the watcher says so.
        doubled: Share of taps that come twice, within 0.3 s.
        nonstop_s: How long somebody taps four times a second without looking, once in the feed; 0: never.
        countable: Which taps the program takes for swallows.
    """

    per_minute: float = 36.0
    lull_s: float = 45.0
    heard: float = 0.85
    extra_per_minute: float = 0.4
    is_other: bool = False
    away_s: float = 0.0
    is_marked: bool = True
    doubled: float = 0.0
    nonstop_s: float = 0.0
    countable: Countable = EVERY_TAP


class Own(NamedTuple):
    """What is one infant's own: swallows a second in bursts of an ejection, the part of that which is left
    outside one, and by what its bursts and pauses differ from the usual lengths.
    """

    rate: float
    quiet: float
    lengths: Floats


@dataclass(frozen=True, eq=False)
class SimulatedFeed:
    """One side, and the truth about it.

    Attributes:
        stretch: What was tapped.
        faded_s: When the last ejection ended.
        effective_s: Length of all ejections.
        stays: Whether the infant stays on after the last ejection.
        lulls: From the end of each ejection to the next, or to the end.
        own: What is the infant's own.
    """

    stretch: Stretch
    faded_s: float
    effective_s: float
    stays: bool
    lulls: tuple[tuple[float, float], ...]
    own: Own


def draw(world: FeedWorld, rng: np.random.Generator) -> SimulatedFeed:
    """One side of a feed."""
    ejections, faded_s, end_s, stays = _ejections(world, rng)
    own = _own(world, rng)
    swallows = _swallows(world, own, ejections, end_s, rng)
    heard = swallows[rng.random(len(swallows)) < world.heard]
    extra = rng.uniform(0, end_s, rng.poisson(world.extra_per_minute / 60 * end_s))
    seconds = int(end_s)
    taps_s = _tapped(world, np.concatenate([heard, extra]), end_s, rng)
    watched = np.ones(seconds, dtype=np.bool_)
    if world.away_s and end_s > world.away_s:
        since = rng.uniform(0, end_s - world.away_s)
        taps_s = taps_s[(taps_s < since) | (taps_s > since + world.away_s)]
        if world.is_marked:
            watched[int(since) : int(np.ceil(since + world.away_s))] = False
    tapped_ms = 1000 * np.sort(taps_s[taps_s < seconds])
    taps_ms, rushes = counted(tapped_ms.tolist(), world.countable)
    for since_ms, until_ms in rushes:
        watched[int(since_ms / 1000) : int(np.ceil(until_ms / 1000))] = False
    taps = np.bincount((np.array(taps_ms) / 1000).astype(int), minlength=seconds)
    stretch = Stretch(
        "left", 0, taps, watched | (taps > 0), np.arange(seconds + 1) * 1000, is_over=True
    )
    nexts = [*(since for since, _ in ejections[1:]), end_s]
    lulls = tuple((end, then) for (_, end), then in zip(ejections, nexts, strict=True))
    return SimulatedFeed(
        stretch, faded_s, float(sum(end - since for since, end in ejections)), stays, lulls, own
    )


def _tapped(world: FeedWorld, taps_s: Floats, end_s: float, rng: np.random.Generator) -> Floats:
    """With the taps of a finger that bounces, and of one that does not stop."""
    found = [taps_s]
    if world.doubled:
        again = taps_s[rng.random(len(taps_s)) < world.doubled]
        found.append(again + rng.uniform(0.03, 0.3, len(again)))
    if world.nonstop_s:
        since = rng.uniform(0, max(end_s - world.nonstop_s, 0))
        found.append(np.arange(since, min(since + world.nonstop_s, end_s), 0.25))
    return np.concatenate(found)


def _ejections(
    world: FeedWorld, rng: np.random.Generator
) -> tuple[list[tuple[float, float]], float, float, bool]:
    """From when to when milk flows, when the last ends, when the infant is off, whether it stayed."""
    at = min(rng.gamma(2, 25), 180.0)
    count = min(1 + rng.poisson(1.5), 6)
    found = []
    for place in range(count):
        if world.is_other:
            length = rng.gamma(6, (130 if place == 0 else 90) / 6)
        else:
            length = rng.lognormal(np.log(150 if place == 0 else 80), 0.35)
        if world.per_minute < 20:
            length *= 0.8
        found.append((at, at + length))
        at += length
        if place < count - 1:
            at += (
                rng.gamma(2, world.lull_s / 1.678)
                if world.is_other
                else rng.lognormal(np.log(world.lull_s), 0.6)
            )
    faded = found[-1][1]
    stays = bool(rng.random() < 0.7)
    return found, faded, faded + (rng.gamma(3, 110) if stays else rng.uniform(1, 8)), stays


def _own(world: FeedWorld, rng: np.random.Generator) -> Own:
    return Own(
        world.per_minute / 60 * rng.lognormal(0, 0.25),
        float(np.clip(rng.normal(0.42, 0.10), 0.1, 0.8)),
        rng.lognormal(0, 0.3, 4),
    )


def _swallows(
    world: FeedWorld,
    infant: Own,
    ejections: list[tuple[float, float]],
    end_s: float,
    rng: np.random.Generator,
) -> Floats:
    """When the infant swallows."""
    rate, quiet, own = infant
    found: list[float] = []
    at, is_burst = 0.0, bool(rng.random() < 0.5)
    while at < end_s:
        since = next((begin for begin, end in ejections if begin <= at < end), None)
        flows = since is not None
        mean = (
            (15 * own[0] if is_burst else 6 * own[1])
            if flows
            else (6 * own[2] if is_burst else 15 * own[3])
        )
        even = world.is_other and is_burst
        length = rng.gamma(2, mean / 2) if even else rng.exponential(mean)
        edges = [edge for span in ejections for edge in span if edge > at]
        until = min(at + length, end_s, *edges) if edges else min(at + length, end_s)
        if is_burst:
            found += _renewals(at, until, since, rate if flows else rate * quiet, world, rng)
        is_burst = is_burst if until in edges else not is_burst
        at = until
    return np.array(found)


def _renewals(
    at: float,
    until: float,
    since: float | None,
    rate: float,
    world: FeedWorld,
    rng: np.random.Generator,
) -> list[float]:
    """Swallows of one burst: gamma intervals with a coefficient of variation of one half."""
    found: list[float] = []
    while True:
        now = rate
        if since is not None:
            into = at - since
            rises = 1.2 * (1 - 0.5 * np.exp(-into / 15)) * np.exp(-into / 300)
            now *= rises if world.is_other else 0.75 + 0.55 * np.exp(-into / 60)
        at += rng.gamma(4, 1 / (4 * now))
        if at >= until:
            return found
        found.append(at)


def faded_online(stretches: Sequence[Stretch], model: FeedModel) -> list[Floats]:
    """Chance of 'faded' after each second, knowing only what came before: what a watcher is shown.

    All stretches are gone through together, the longest first, so that those that are over drop out.
    """
    order = sorted(range(len(stretches)), key=lambda nth: -stretches[nth].seconds)
    lengths = np.array([stretches[nth].seconds for nth in order])
    tapped = np.full((lengths.max(initial=0), len(order)), UNWATCHED)
    for column, nth in enumerate(order):
        one = stretches[nth]
        counted = np.where(one.is_watched, np.minimum(one.taps, MOST_TAPS), UNWATCHED)
        tapped[: one.seconds, column] = counted
    step = np.ascontiguousarray(model.step.transpose(2, 0, 1))
    chances = np.ascontiguousarray(model.taps.transpose(2, 0, 1))
    state = np.repeat(model.start.T[:, None, :], len(order), axis=1)
    shown = np.zeros(tapped.shape)
    for second, taps in enumerate(tapped):
        on = int((lengths > second).sum())
        state = state[:, :on] @ step if second else state
        state = state * chances[:, taps[:on]]
        state = state / state.sum(axis=(0, 2))[:, None]
        shown[second, :on] = state[:, :, FADED_STATES].sum(axis=(0, 2))
    found: list[Floats] = [np.zeros(0)] * len(order)
    for column, nth in enumerate(order):
        found[nth] = shown[: stretches[nth].seconds, column]
    return found
