"""Offers of the other side on simulated feeds: when a rule makes them, and how early or late they are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from tools.validate.feeds import Floats, SimulatedFeed

from suffice.inference.feed.reading import StretchReading

EARLY_S = 30


@dataclass(frozen=True, eq=False)
class Watched:
    """A side, what the model showed after each of its seconds, and what was read at its end."""

    feed: SimulatedFeed
    shown: Floats
    read: StretchReading


Rule = Callable[[Watched], "float | None"]


def first(is_met: NDArray[np.bool_]) -> float | None:
    """The second after which something first is so."""
    at = np.flatnonzero(is_met)
    return float(at[0] + 1) if len(at) else None


def model_rule(above: float, least: int) -> Rule:
    def ask(side: Watched) -> float | None:
        return first((side.shown > above) & (side.feed.stretch.taps.cumsum() >= least))

    return ask


@dataclass(frozen=True)
class Offers:
    """How often an offer comes too early, how often it comes, and how late (s)."""

    early: float
    found: float
    median_s: float
    late_s: float

    def __str__(self) -> str:
        """As cells."""
        times = f"{self.median_s:.0f} | {self.late_s:.0f}" if self.found else "- | -"
        return f"{self.early:.3f} | {self.found:.2f} | {times}"


def offers(sides: Sequence[Watched], rule: Rule) -> Offers:
    early, delays = 0, []
    for side in sides:
        at, feed = rule(side), side.feed
        if at is None:
            continue
        if at < feed.faded_s - EARLY_S:
            early += 1
        elif at >= feed.faded_s and feed.stays:
            delays.append(at - feed.faded_s)
    found = len(delays) / sum(side.feed.stays for side in sides)
    median, late = np.quantile(delays, (0.5, 0.9)) if delays else (np.nan, np.nan)
    return Offers(early / len(sides), found, float(median), float(late))


def boldest(sides: Sequence[Watched], kind: Iterable[Rule], most: float) -> Offers:
    """What the boldest rule of a kind finds that is early on no more than so many sides."""
    best = Offers(0.0, 0.0, np.nan, np.nan)
    for rule in kind:
        found = offers(sides, rule)
        if found.early <= most and found.found > best.found:
            best = found
    return best
