"""The particles are chances: they sum to one, and 'faded' is never left."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from scipy.stats import poisson

from clinical_constants import constant
from feeds import PARAMETERS
from suffice.clinical.working import Constant
from suffice.inference.feed.model import (
    FADED_STATES,
    FLOW_STATES,
    MOST_TAPS,
    PARTICLES,
    STATES,
    UNWATCHED,
    Floats,
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


def test_a_feed_has_as_many_ejections_as_the_source_counted() -> None:
    """Ramsay 2004: 2.5 (SD 1.5). All later ones together: geometric, if there is one at all."""
    none, ends = PARAMETERS.first_last_fraction.value, PARAMETERS.last_fraction.value
    mean = (1 - none) / ends
    assert 1 + mean == pytest.approx(2.5)
    assert (1 - none) * (2 - ends) / ends**2 - mean**2 == pytest.approx(1.5**2)


TAPS_PER_S = MODEL.taps[1] / MODEL.taps[0]
"""What is expected of a second, by state and particle: of a Poisson count the second chance over the first."""
FLOW_BURST, FLOW_PAUSE, FADED_BURST = FLOW_STATES.start, FLOW_STATES.start + 1, FADED_STATES.start
P = PARAMETERS


def test_counts_of_a_second_are_poisson_and_an_unwatched_one_says_nothing() -> None:
    counts = np.arange(MOST_TAPS + 1)[:, None, None]
    np.testing.assert_allclose(MODEL.taps[:UNWATCHED], poisson.pmf(counts, TAPS_PER_S), rtol=1e-9)
    assert np.all(MODEL.taps[UNWATCHED] == 1)


def lasts_s(state: int, then: slice | int, stays: Floats | float = 1.0) -> Floats:
    """Seconds that a state lasts on average until another, by particle; `stays` in its mode meanwhile."""
    return np.asarray(stays / np.atleast_2d(MODEL.step[state, then]).sum(axis=0))


EJECTION_S = lasts_s(FLOW_BURST, FADED_STATES) * P.first_last_fraction.value
LATER_S = lasts_s(FLOW_BURST + 2, FADED_STATES) * P.last_fraction.value
IN_FLOW = 1 - 1 / EJECTION_S
IN_WAIT = 1 - 1 / P.wait_s.value
FALSE_PER_S = P.false_count_per_minute.value / 60


@pytest.mark.parametrize(
    ("found", "median", "log_sd"),
    [
        (EJECTION_S, P.ejection_s, P.ejection_log_sd),
        (LATER_S, P.ejection_s, P.ejection_log_sd),
        (lasts_s(FLOW_BURST, FLOW_PAUSE, IN_FLOW), P.burst_s, P.burst_log_sd),
        (lasts_s(FLOW_PAUSE, FLOW_BURST, IN_FLOW), P.pause_s, P.quiet_burst_log_sd),
        (lasts_s(0, 1, IN_WAIT), P.quiet_burst_s, P.burst_log_sd),
        (lasts_s(1, 0, IN_WAIT), P.quiet_pause_s, P.quiet_burst_log_sd),
        (
            60 * (TAPS_PER_S[FLOW_BURST] - FALSE_PER_S),
            P.swallows_count_per_minute,
            P.swallows_log_sd,
        ),
    ],
    ids=[
        "first ejection",
        "later ejection",
        "burst",
        "pause",
        "quiet burst",
        "quiet pause",
        "swallows",
    ],
)
def test_the_particles_spread_about_the_medians_of_the_content(
    found: Floats, median: Constant, log_sd: Constant
) -> None:
    """128 points spread evenly give both to a few parts of a hundred; a value 5 % off is seen."""
    assert np.median(found) == pytest.approx(median.value, rel=0.02)
    assert np.std(np.log(found)) == pytest.approx(log_sd.value, rel=0.05)


def test_outside_an_ejection_swallows_are_fewer_and_in_a_pause_every_tap_is_a_slip() -> None:
    share = (TAPS_PER_S[FADED_BURST] - FALSE_PER_S) / (TAPS_PER_S[FLOW_BURST] - FALSE_PER_S)
    assert np.median(share) == pytest.approx(P.quiet_fraction.value, rel=0.02)
    assert P.least_quiet_fraction.value <= share.min()
    assert share.max() <= P.most_quiet_fraction.value
    np.testing.assert_allclose(TAPS_PER_S[1::2], FALSE_PER_S)


def test_the_milk_waits_or_flows_at_once_and_nothing_else_begins_a_stretch() -> None:
    by_mode = MODEL.start.sum(axis=1).reshape(-1, 2).sum(axis=1)
    at_once = P.active_at_once_fraction.value
    assert by_mode == pytest.approx([1 - at_once, at_once, 0, 0, 0])


def test_an_absurd_length_still_gives_chances() -> None:
    """A clinic may write any value: no chance leaves 0 to 1."""
    short = msgspec.structs.replace(PARAMETERS, burst_s=constant(0.1), lull_s=constant(0.01))
    assert np.all((feed_model(short).step >= 0) & (feed_model(short).step <= 1))
