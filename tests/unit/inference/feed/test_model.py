"""The particles are chances: they sum to one, and 'faded' is never left."""

from __future__ import annotations

import msgspec
import numpy as np

from clinical_constants import constant
from feeds import PARAMETERS
from suffice.inference.feed.model import (
    FADED_STATES,
    MOST_TAPS,
    PARTICLES,
    STATES,
    UNWATCHED,
    feed_model,
)

MODEL = feed_model(PARAMETERS)


def test_every_step_and_the_start_are_chances() -> None:
    assert MODEL.step.shape == (STATES, STATES, PARTICLES)
    assert np.all(MODEL.step >= 0)
    assert np.allclose(MODEL.step.sum(axis=1), 1, atol=1e-12)
    assert np.isclose(MODEL.start.sum(), 1)


def test_faded_is_never_left() -> None:
    assert np.allclose(MODEL.step[FADED_STATES, FADED_STATES].sum(axis=1), 1, atol=1e-12)


def test_counts_of_a_second_are_poisson_and_an_unwatched_one_says_nothing() -> None:
    assert np.allclose(MODEL.taps[: MOST_TAPS + 1].sum(axis=0), 1, atol=1e-6)
    assert np.all(MODEL.taps[UNWATCHED] == 1)


def test_the_particles_spread_about_the_medians_of_the_content() -> None:
    ends_in_s = 1 / MODEL.step[2:4, 6:8].sum(axis=1).mean(axis=0)
    last = PARAMETERS.last_fraction.value
    assert np.isclose(np.median(ends_in_s) * last, PARAMETERS.ejection_s.value, rtol=0.1)


def test_an_absurd_length_still_gives_chances() -> None:
    """A clinic may write any value: no chance leaves 0 to 1."""
    short = msgspec.structs.replace(PARAMETERS, burst_s=constant(0.1), lull_s=constant(0.01))
    assert np.all((feed_model(short).step >= 0) & (feed_model(short).step <= 1))
