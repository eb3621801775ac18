"""What the model makes of the seconds of one stretch: exact sums over all its courses.

Forwards, beside the chance of each state, go the first two moments of the seconds of flow so far,
so the effective time needs no draws. Backwards, since 'faded' is never left, only its own block is
needed: it gives the chance that swallowing faded at each second, with all that came after known.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.feed.course import Stretch
from suffice.inference.feed.model import (
    FADED_STATES,
    FLOW_STATES,
    MOST_TAPS,
    STATES,
    UNWATCHED,
    FeedModel,
    Floats,
)

Counts = NDArray[np.uint8]

FLOWS = FLOW_STATES.stop - FLOW_STATES.start
_SCALE_EVERY = 16
_PART = 64
"""Seconds that are gone through at a time, a multiple of those between two scalings."""
_PARTS_KEPT = 128
_TINY = 1e-280
"""Keeps what has become impossible out of the slow numbers below 1e-308."""


@dataclass(frozen=True, eq=False)
class Passed:
    """What is known after the last second of a stretch.

    Attributes:
        states: Chance of each state now, summed over the particles, (states,).
        effective_s: Mean of the seconds of flow.
        effective_sd_s: Their SD.
    """

    states: Floats
    effective_s: float
    effective_sd_s: float
    _faded_at: Callable[[], Floats]

    @property
    def faded(self) -> float:
        """Chance that swallowing has faded for good."""
        return float(self.states[FADED_STATES].sum())

    def faded_at(self) -> Floats:
        """Chance that swallowing faded for good at the beginning of each second, (n,).

        It sums to the chance that it has faded. Computed when asked: most readings need no time.
        """
        return self._faded_at()


def passed(stretch: Stretch, model: FeedModel) -> Passed:
    """The model's answer for a stretch; the same seconds give the same bits."""
    if not stretch.seconds:
        return Passed(model.start.sum(axis=1), 0.0, 0.0, lambda: np.zeros(0))
    counted = np.minimum(stretch.taps, MOST_TAPS)
    tapped = np.where(stretch.is_watched, counted, UNWATCHED).astype(np.uint8)
    reached = _forwards(model, tapped)
    total = reached.state[0].sum()
    first, second = (float(reached.state[order].sum() / total) for order in (1, 2))
    return Passed(
        np.asarray(reached.state[0].sum(axis=1) / total),
        first,
        float(np.sqrt(max(second - first**2, 0.0))),
        lambda: np.asarray(_entries(model, tapped, *reached.whole()) / total),
    )


@dataclass(frozen=True, eq=False)
class _Reached:
    """How far a stretch was gone through, second by second.

    Attributes:
        state: Chances and first two moments of the seconds of flow, (3, states, particles).
        flow: Chances of flow before the step of each second of this part, (n, 4, particles).
        scale: Log scale of each of them, (n,).
        scale_now: Log scale of `state`.
        before: The part before this one.
    """

    state: Floats
    flow: Floats
    scale: Floats
    scale_now: float
    before: _Reached | None

    def whole(self) -> tuple[Floats, Floats]:
        """Flow and scale from the first second on."""
        parts: list[_Reached] = []
        part: _Reached | None = self
        while part is not None:
            parts.append(part)
            part = part.before
        parts.reverse()
        flow = np.concatenate([one.flow for one in parts])
        return flow, np.concatenate([*(one.scale for one in parts), [self.scale_now]])


@lru_cache(maxsize=_PARTS_KEPT)
def _upto(model: FeedModel, tapped: bytes) -> _Reached:
    """The whole parts of a stretch, kept: a feed that goes on is not gone through from its start."""
    before = _upto(model, tapped[:-_PART]) if len(tapped) > _PART else None
    return _further(model, np.frombuffer(tapped[-_PART:], np.uint8), before)


def _forwards(model: FeedModel, tapped: Counts) -> _Reached:
    """Through all seconds; in the same parts, and so to the same bits, however much was kept."""
    whole = len(tapped) // _PART * _PART
    before = _upto(model, tapped[:whole].tobytes()) if whole else None
    return _further(model, tapped[whole:], before)


def _further(model: FeedModel, tapped: Counts, before: _Reached | None) -> _Reached:
    """Through the next seconds of a stretch, or through its first ones."""
    flow = np.zeros((len(tapped), FLOWS, model.start.shape[1]))
    scale = np.zeros(len(tapped))
    now = before.scale_now if before else 0.0
    state = before.state if before else np.zeros((3, *model.start.shape))
    for second, taps in enumerate(tapped):
        if second % _SCALE_EVERY == 0 and (second or before):
            size = float(state[0].sum())
            now += float(np.log(size))
            state = np.maximum(state / size, _TINY)
        scale[second] = now
        flow[second] = state[0, FLOW_STATES]
        if second or before:
            state = onward(state, model) * model.taps[taps]
        else:
            state[0] = model.start * model.taps[taps]
        _count_flow(state[:, FLOW_STATES])
    return _Reached(state, flow, scale, now, before)


def onward(state: Floats, model: FeedModel) -> Floats:
    """Chances, or their moments, (any, states, particles), a second on."""
    return np.asarray(np.einsum("aik,ijk->ajk", state, model.step))


def _count_flow(here: Floats) -> None:
    """One second more for the courses that are in flow now: (N + 1)^2 = N^2 + 2 N + 1."""
    here[2] += 2 * here[1] + here[0]
    here[1] += here[0]


def _entries(model: FeedModel, tapped: Counts, flow: Floats, scale: Floats) -> Floats:
    """Joint chance, on the last second's scale, of fading at each second and staying so."""
    count = len(tapped)
    # From flow and from faded, in each of their phases, to faded.
    to_burst, to_pause = (
        np.concatenate([model.step[FLOW_STATES, to], model.step[FADED_STATES, to]])
        for to in range(STATES)[FADED_STATES]
    )
    chances = model.taps[:, FADED_STATES]
    found = np.zeros(count)
    after = np.ones((2, flow.shape[2]))
    behind = 0.0
    for second in range(count - 1, 0, -1):
        after = after * chances[tapped[second]]
        back = to_burst * after[0] + to_pause * after[1]
        joint = max(float(np.vdot(flow[second], back[:FLOWS])), _TINY)
        found[second] = np.exp(np.log(joint) + scale[second] + behind - scale[count])
        after = back[FLOWS:]
        if second % _SCALE_EVERY == 0:
            size = after.max()
            after = np.maximum(after / size, _TINY)
            behind += np.log(size)
    return found
