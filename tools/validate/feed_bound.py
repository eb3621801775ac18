"""How far the reading of watched feeds is from what could be known at all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from tools.validate.feed_offers import Rule, Watched, model_rule, offers
from tools.validate.feeds import FeedWorld
from tools.validate.known_feeds import known

ABOVE = (0.88, 0.91, 0.94)


class KnownSide(NamedTuple):
    """A side as who knows all sees it: while it is watched, and when it faded, in seconds from its beginning."""

    watched: Watched
    faded_s: float


def known_sides(sides: Sequence[Watched], world: FeedWorld) -> list[KnownSide]:
    """Each side with the chances of who knows all in place of the model's; slow: a second or so a side."""
    found = []
    for side in sides:
        one = known(side.feed, world)
        median = int(np.searchsorted(one.faded_in.cumsum(), 0.5))
        found.append(KnownSide(replace(side, shown=one.shown), median + 0.5))
    return found


def bound_rows(
    drawn: Mapping[str, Sequence[Watched]],
    known_in: Mapping[str, Sequence[KnownSide]],
    in_use: Rule,
) -> Iterator[str]:
    """The model in use and who knows all, on the same sides."""
    for world, sides in known_in.items():
        model = [(one.feed.faded_s, one.read.faded_ms) for one in drawn[world]]
        read = [(faded_s, at.value / 1000) for faded_s, at in model if at is not None]
        yield _row(world, "model, in use", f"{offers(drawn[world], in_use)}", read)
        watched = [one.watched for one in sides]
        same = [
            (one.watched.feed.faded_s, one.faded_s) for one in sides if one.watched.read.faded_ms
        ]
        for above in ABOVE:
            name = f"knows all, above {above:g}"
            yield _row(world, name, f"{offers(watched, model_rule(above, 0))}", same)


def _row(world: str, who: str, offered: str, times: Sequence[tuple[float, float]]) -> str:
    """A row; the times are the true ones of the fade and the read ones."""
    errors = np.array([read - true for true, read in times])
    return (
        f"| {world} | {who} | {offered} | {np.median(np.abs(errors)):.1f} "
        f"| {np.sqrt(np.mean(errors**2)):.0f} |"
    )


BOUND = """
## What could be known at all

The bound beside the targets that are missed. On the same sides, a filter that is told each infant's own rate, bursts and pauses, what the watcher
misses, and the laws of this world to the letter: how many ejections there are, how long waits, ejections and lulls last, how even the swallows
come, when infants come off (`tools/validate/known_feeds.py`). It sums over all that could have happened, so by the taps of each second nothing tells
more. Nobody at a bedside knows any of that. The time of the fade is of the sides that the model reads as faded.

| world | who reads | early | found | delay, median s | delay, 90 % s | time of the fade: median error s | RMSE s |
|---|---|---:|---:|---:|---:|---:|---:|"""
AFTER_BOUND = """
**Out of reach on these sides.** *Early on at most .05 after 60 s away, and nine of ten delays within 195 s, by one threshold*: above .88 who knows all is early on too many, above .91 too late, and
nowhere between is it both (standard error .011, 11 s). One of the two must give. A threshold of its own after looking away has a price: above .91 the model is early on .049 of 800 tuning sides instead of .071, finds .70 instead of .75, and
comes 23 s later; it was not taken.

**Not out of reach for who knows all, and not reached.** *Found, .78*: .81, five sides of a hundred more than the model at nearly the same share of early ones. *RMSE of
the fade, 40 s*: 30 s, twice as near. The gap is what the model has to learn of each infant from the very taps it reads. That it is not the laws of the lengths was tried: with ejections as
chains of four stages the RMSE on 200 tuning sides is 49 s and not 48 (half of the errors 7 s and not 8), and the mean of the time instead of its median has 41 s there, but half of its errors are 12 s and
not 8: it names an instant between two at which something may have happened.
"""
