"""The seconds of a watched feed: one stretch for each time that the infant goes on a side.

What counts is the time on the side while it is not interrupted. A pause is cut out, so that the
stretch goes on where it was left. A swallow while nobody watches says that somebody does again.
Every tap stays on the record. One that follows another too soon is counted as the same swallow, and
while taps come faster than any infant swallows nobody is taken to be watching.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.feed.event import FeedEvent, ordered
from suffice.clinical.units import MS_PER_SECOND


@dataclass(frozen=True, eq=False)
class Stretch:
    """One time on one side, second by second.

    Attributes:
        side: Which.
        begins_ms: When the infant went on, after the beginning of the feed.
        taps: Swallows in each whole second, shape (n,); taps of the same swallow count once.
        is_watched: Whether somebody watched throughout that second, shape (n,).
        clock_ms: When each second began on the clock of the feed, pauses included, shape (n + 1,):
            the last is where the stretch ends.
        is_over: Whether the infant is off again.
        left_out_count: Taps that are not counted: a second one of a swallow, or a run of them that no infant
            swallows.
    """

    side: Literal["left", "right"]
    begins_ms: int
    taps: NDArray[np.intp]
    is_watched: NDArray[np.bool_]
    clock_ms: NDArray[np.int64]
    is_over: bool
    left_out_count: int = 0

    @property
    def seconds(self) -> int:
        """Whole seconds on the side."""
        return len(self.taps)

    @property
    def taps_count(self) -> int:
        """Swallows that were seen or heard."""
        return int(self.taps.sum())


@dataclass(frozen=True)
class Countable:
    """Which taps can be swallows.

    Attributes:
        same_within_ms: A tap less than this after one that counts is of the same swallow.
        most_count: Taps that may come within `of_ms`; where more do, none of them counts.
        of_ms: Length of that time.
    """

    same_within_ms: float = 0
    most_count: int = 0
    of_ms: float = 0


EVERY_TAP = Countable()


def stretches(
    events: Sequence[FeedEvent], now_ms: int, countable: Countable = EVERY_TAP
) -> tuple[Stretch, ...]:
    """The stretches of a feed as of a moment, the earliest first.

    Args:
        events: In any order. What comes after `now_ms` is left out.
        now_ms: After the beginning of the feed; a stretch that is not over ends there.
        countable: Which taps can be swallows.
    """
    known = [one for one in ordered(events) if one.at_ms <= now_ms]
    found: list[Stretch] = []
    of_one: list[FeedEvent] = []
    is_away = False
    for event in known:
        if event.what in {"left", "right", "off"} and of_one:
            if event.what == of_one[0].what:
                continue
            found.append(_stretch(of_one, event.at_ms, countable, is_over=True))
            of_one = []
        if event.what in {"left", "right"}:
            of_one = [event]
            if is_away:
                of_one.append(FeedEvent(at_ms=event.at_ms, what="away"))
        elif of_one:
            of_one.append(event)
        if event.what in {"away", "back", "swallow"}:
            is_away = event.what == "away"
    if of_one:
        found.append(_stretch(of_one, now_ms, countable, is_over=False))
    return tuple(found)


def counted(
    taps_ms: Sequence[float], countable: Countable
) -> tuple[list[float], list[tuple[float, float]]]:
    """The taps that count, of those in order of time, and from when to when too many came."""
    rushes = rushes_of(taps_ms, countable.most_count, countable.of_ms)
    kept = [at for at in taps_ms if not any(since <= at <= until for since, until in rushes)]
    return told_apart(kept, countable.same_within_ms), rushes


def told_apart(taps_ms: Sequence[float], same_within_ms: float) -> list[float]:
    """The taps that count, of those in order of time: one too soon after the last that counts does not.

    A finger that bounces adds nothing, and taps without a stop still count, if more slowly.
    """
    found: list[float] = []
    for at in taps_ms:
        if not found or at - found[-1] >= same_within_ms:
            found.append(at)
    return found


def rushes_of(taps_ms: Sequence[float], most_count: int, of_ms: float) -> list[tuple[float, float]]:
    """From when to when taps, in order of time, came faster than so many in so long."""
    found: list[tuple[float, float]] = []
    for since, until in zip(taps_ms, taps_ms[most_count:], strict=False):
        if until - since >= of_ms:
            continue
        if found and since <= found[-1][1]:
            found[-1] = (found[-1][0], until)
        else:
            found.append((since, until))
    return found


def _stretch(
    events: list[FeedEvent], end_ms: int, countable: Countable, *, is_over: bool
) -> Stretch:
    begins_ms = events[0].at_ms
    span_ms = end_ms - begins_ms
    on_ms = _without(span_ms, _spans(events, "pause", {"on", "swallow"}, end_ms), begins_ms)
    away = _spans(events, "away", {"back", "swallow"}, end_ms)
    tapped_ms = [one.at_ms for one in events if one.what == "swallow"]
    taps_ms, rushes = counted(tapped_ms, countable)
    edges = np.array([0, *on_ms[:, 1] - on_ms[:, 0]]).cumsum()
    seconds = int(edges[-1]) // MS_PER_SECOND
    at = np.arange(seconds + 1) * MS_PER_SECOND
    part = np.minimum(np.searchsorted(edges, at, side="right") - 1, len(on_ms) - 1)
    clock = on_ms[part, 0] + at - edges[part] + begins_ms

    def second_of(at_ms: float) -> float:
        """On the clock of the stretch, which stands still while it is interrupted."""
        inside = np.clip(at_ms - begins_ms - on_ms[:, 0], 0, on_ms[:, 1] - on_ms[:, 0])
        return float(inside.sum()) / MS_PER_SECOND

    taps = (
        np.bincount([int(second_of(ms)) for ms in taps_ms], minlength=seconds)[:seconds]
        if (taps_ms)
        else np.zeros(seconds, dtype=np.intp)
    )
    watched = np.ones(seconds, dtype=np.bool_)
    for since_ms, until_ms in (*away, *rushes):
        if until_ms > since_ms:
            watched[int(second_of(since_ms)) : int(np.ceil(second_of(until_ms)))] = False
    watched |= taps > 0
    return Stretch(
        side="left" if events[0].what == "left" else "right",
        begins_ms=begins_ms,
        taps=taps.astype(np.intp),
        is_watched=watched,
        clock_ms=clock.astype(np.int64),
        is_over=is_over,
        left_out_count=len(tapped_ms) - len(taps_ms),
    )


def _spans(
    events: list[FeedEvent], opens: str, closes: set[str], end_ms: int
) -> list[tuple[int, int]]:
    """From each opening to whatever closes it, or to the end."""
    spans: list[tuple[int, int]] = []
    since: int | None = None
    for event in events:
        if event.what == opens and since is None:
            since = event.at_ms
        elif event.what in closes and since is not None:
            spans.append((since, event.at_ms))
            since = None
    return [*spans, (since, end_ms)] if since is not None else spans


def _without(span_ms: int, out: list[tuple[int, int]], begins_ms: int) -> NDArray[np.int64]:
    """What is left of a span, from its beginning, when pauses are cut out of it: (parts, 2)."""
    edges = [0]
    for since_ms, until_ms in out:
        edges += [since_ms - begins_ms, until_ms - begins_ms]
    return np.array([*edges, span_ms], dtype=np.int64).reshape(-1, 2)
