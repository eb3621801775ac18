"""The seconds of a watched feed: one stretch for each time that the infant goes on a side.

What counts is the time on the side while it is not interrupted. A pause is cut out, so that the
stretch goes on where it was left. A swallow while nobody watches says that somebody does again.
Every tap stays on the record; one that follows another too soon is counted as the same swallow.
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
        repeats_count: Taps left out, each of a swallow that was tapped already.
    """

    side: Literal["left", "right"]
    begins_ms: int
    taps: NDArray[np.intp]
    is_watched: NDArray[np.bool_]
    clock_ms: NDArray[np.int64]
    is_over: bool
    repeats_count: int = 0

    @property
    def seconds(self) -> int:
        """Whole seconds on the side."""
        return len(self.taps)

    @property
    def taps_count(self) -> int:
        """Swallows that were seen or heard."""
        return int(self.taps.sum())


def stretches(
    events: Sequence[FeedEvent], now_ms: int, same_within_ms: float = 0
) -> tuple[Stretch, ...]:
    """The stretches of a feed as of a moment, the earliest first.

    Args:
        events: In any order. What comes after `now_ms` is left out.
        now_ms: After the beginning of the feed; a stretch that is not over ends there.
        same_within_ms: A tap less than this after one that counts is of the same swallow.
    """
    known = [one for one in ordered(events) if one.at_ms <= now_ms]
    found: list[Stretch] = []
    of_one: list[FeedEvent] = []
    is_away = False
    for event in known:
        if event.what in {"left", "right", "off"} and of_one:
            if event.what == of_one[0].what:
                continue
            found.append(_stretch(of_one, event.at_ms, same_within_ms, is_over=True))
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
        found.append(_stretch(of_one, now_ms, same_within_ms, is_over=False))
    return tuple(found)


def told_apart(taps_at: Sequence[float], same_within: float) -> list[float]:
    """The taps that count, of those in order of time: one too soon after the last that counts does not.

    A finger that bounces adds nothing, and taps without a stop still count, if more slowly.
    """
    found: list[float] = []
    for at in taps_at:
        if not found or at - found[-1] >= same_within:
            found.append(at)
    return found


def _stretch(
    events: list[FeedEvent], end_ms: int, same_within_ms: float, *, is_over: bool
) -> Stretch:
    begins_ms = events[0].at_ms
    span_ms = end_ms - begins_ms
    on_ms = _without(span_ms, _spans(events, "pause", {"on", "swallow"}, end_ms), begins_ms)
    away = _spans(events, "away", {"back", "swallow"}, end_ms)
    tapped_ms = [one.at_ms for one in events if one.what == "swallow"]
    taps_ms = told_apart(tapped_ms, same_within_ms)
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
    for since_ms, until_ms in away:
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
        repeats_count=len(tapped_ms) - len(taps_ms),
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
