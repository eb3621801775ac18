"""What the model makes of the seconds of one stretch: exact sums over all its courses.

Forwards, beside the chance of each state, go the first two moments of the seconds of flow so far,
so the effective time needs no draws. Backwards, since 'faded' is never left, only its own block is
needed: it gives the chance that swallowing faded at each second, with all that came after known.
"""

from __future__ import annotations

from dataclasses import dataclass

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

Counts = NDArray[np.intp]

_SCALE_EVERY = 16
_TINY = 1e-280
"""Keeps what has become impossible out of the slow numbers below 1e-308."""


@dataclass(frozen=True, eq=False)
class Passed:
    """What is known after the last second of a stretch.

    Attributes:
        states: Chance of each state now, summed over the particles, (states,).
        faded_at: Chance that swallowing faded for good at the beginning of each second, (n,); it
            sums to the chance that it has faded.
        effective_s: Mean of the seconds of flow.
        effective_sd_s: Their SD.
    """

    states: Floats
    faded_at: Floats
    effective_s: float
    effective_sd_s: float

    @property
    def faded(self) -> float:
        """Chance that swallowing has faded for good."""
        return float(self.states[FADED_STATES].sum())


def passed(stretch: Stretch, model: FeedModel) -> Passed:
    """The model's answer for a stretch; the same seconds give the same bits."""
    count = stretch.seconds
    if not count:
        return Passed(model.start.sum(axis=1), np.zeros(0), 0.0, 0.0)
    tapped = np.where(stretch.is_watched, np.minimum(stretch.taps, MOST_TAPS), UNWATCHED)
    flow, moments, scale = _forwards(model, tapped)
    total = moments[0].sum()
    first, second = (float(moments[order].sum() / total) for order in (1, 2))
    return Passed(
        states=np.asarray(moments[0].sum(axis=1) / total),
        faded_at=_entries(model, tapped, flow, scale) / total,
        effective_s=first,
        effective_sd_s=float(np.sqrt(max(second - first**2, 0.0))),
    )


def _forwards(model: FeedModel, tapped: Counts) -> tuple[Floats, Floats, Floats]:
    """The joint chances of flow before each second, the moments after the last, the log scales.

    Returns:
        Chances of flow before each second's step, (n, 2, particles); chances and first two moments
        of the seconds of flow, (3, states, particles); log scale of each second, (n + 1,).
    """
    count, particles = len(tapped), model.start.shape[1]
    flow = np.zeros((count, 2, particles))
    scale = np.zeros(count + 1)
    state = np.zeros((3, STATES, particles))
    state[0] = model.start * model.taps[tapped[0]]
    _count_flow(state[:, FLOW_STATES])
    for second in range(1, count):
        scale[second] = scale[second - 1]
        if second % _SCALE_EVERY == 0:
            size = state[0].sum()
            scale[second] += np.log(size)
            state = np.maximum(state / size, _TINY)
        flow[second] = state[0, FLOW_STATES]
        state = onward(state, model) * model.taps[tapped[second]]
        _count_flow(state[:, FLOW_STATES])
    scale[count] = scale[count - 1]
    return flow, state, scale


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
    # From flow and from faded (in two phases each) to faded.
    to_burst, to_pause = model.step[2:, 6], model.step[2:, 7]
    to_burst, to_pause = to_burst[[0, 1, 4, 5]], to_pause[[0, 1, 4, 5]]
    chances = model.taps[:, FADED_STATES]
    found = np.zeros(count)
    after = np.ones(flow.shape[1:])
    behind = 0.0
    for second in range(count - 1, 0, -1):
        after = after * chances[tapped[second]]
        back = to_burst * after[0] + to_pause * after[1]
        joint = max(float(np.vdot(flow[second], back[:2])), _TINY)
        found[second] = np.exp(np.log(joint) + scale[second] + behind - scale[count])
        after = back[2:]
        if second % _SCALE_EVERY == 0:
            size = after.max()
            after = np.maximum(after / size, _TINY)
            behind += np.log(size)
    return found
