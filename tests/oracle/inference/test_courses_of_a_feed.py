"""The sums of the watched feed against brute force: every course of a short stretch, one by one."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from feeds import PARAMETERS, stretch
from suffice.inference.feed.filtering import passed
from suffice.inference.feed.model import FADED_STATES, FLOW_STATES, STATES, UNWATCHED, feed_model

MODEL = feed_model(PARAMETERS)


@pytest.mark.parametrize(
    ("taps", "away"),
    [([1, 0, 2], []), ([0, 1, 0, 0], [2]), ([3, 1, 0, 0], []), ([0, 0, 0, 1], [0, 1])],
)
def test_every_course_of_a_short_stretch(taps: list[int], away: list[int]) -> None:
    rows = [UNWATCHED if second in away else count for second, count in enumerate(taps)]
    weight, flow, faded, last = [], [], [], []
    for course in product(range(STATES), repeat=len(taps)):
        chance = MODEL.start[course[0]] * MODEL.taps[rows[0], course[0]]
        for second in range(1, len(taps)):
            step = MODEL.step[course[second - 1], course[second]]
            chance = chance * step * MODEL.taps[rows[second], course[second]]
        weight.append(chance.sum())
        flow.append(sum(state in range(STATES)[FLOW_STATES] for state in course))
        faded.append(
            next(
                (at for at, state in enumerate(course) if state in range(STATES)[FADED_STATES]), -1
            )
        )
        last.append(course[-1])
    share = np.array(weight) / sum(weight)
    after = passed(stretch(taps, away), MODEL)
    mean = float(share @ flow)
    assert after.effective_s == pytest.approx(mean, rel=1e-9)
    spread = float(share @ (np.array(flow) - mean) ** 2)
    assert after.effective_sd_s**2 == pytest.approx(spread, rel=1e-6, abs=1e-9)
    for second in range(len(taps)):
        brute = share[np.array(faded) == second].sum()
        assert after.faded_at()[second] == pytest.approx(brute, rel=1e-9, abs=1e-15)
    for state in range(STATES):
        assert after.states[state] == pytest.approx(share[np.array(last) == state].sum(), rel=1e-9)
