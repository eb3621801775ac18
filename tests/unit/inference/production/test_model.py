"""Courses of a breast: they fill as the equation says, and weigh as a brute force of many courses does."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import expit, logit
from scipy.stats import beta as beta_of

from suffice.inference.production import model
from suffice.inference.production.model import Event, FedParameters, courses
from suffice.knowledge.store import load

PARAMETERS = FedParameters.from_content(load().flat, load().series)
READING_SD_ML = 3.0
EVENTS = [Event(0, "session", 60), Event(3, "feed"), Event(7, "session", 70), Event(10, "maybe"),
          Event(12, "weighed", 40), Event(15, "session", 45)]  # fmt: skip


def quantiles(made: np.ndarray, weight: np.ndarray) -> list[float]:
    order = np.argsort(made)
    return [
        float(made[order][np.searchsorted(np.cumsum(weight[order]), one)])
        for one in (0.1, 0.5, 0.9)
    ]


@pytest.mark.parametrize("power", [1.0, 2.5, 4.0])
@pytest.mark.parametrize("hours", [0.25, 3, 24, 200])
@pytest.mark.parametrize("start", [0.0, 0.4, 0.99])
def test_a_breast_fills_as_the_equation_is_solved_step_by_step(
    power: float, hours: float, start: float
) -> None:
    rate, storage = 15.0, 180.0
    solved = solve_ivp(
        lambda _t, there: rate * (1 - np.minimum(there / storage, 1) ** power),
        (0, hours), [start * storage], rtol=1e-8, atol=1e-8, max_step=0.5,
    ).y[0, -1]  # fmt: skip
    named = msgspec.structs.replace(PARAMETERS.filling_power_ratio, value=power)
    parameters = msgspec.structs.replace(PARAMETERS, filling_power_ratio=named)
    breast = np.array([[math.log(rate * 24)], [math.log(storage)], [0.0], [0.0]])
    found = model._filled(np.array([start * storage]), breast, hours, parameters)
    assert found[0] == pytest.approx(solved, rel=2e-3, abs=0.05)


def brute(count: int, seed: int) -> list[float]:
    """Plain courses from the prior, stepped through time, never drawn anew: weights at the end."""
    rng, p = np.random.default_rng(seed), PARAMETERS
    rate = np.exp(
        rng.normal(np.log(p.rate_ml_per_day.value / 24), p.rate_log_sd_ratio.value, count)
    )
    storage = np.exp(rng.normal(np.log(p.storage_ml.value), p.storage_log_sd_ratio.value, count))
    mean, strength = p.session_share_fraction.value, p.session_share_count.value
    session = rng.beta(mean * strength, (1 - mean) * strength, count)
    odds = logit(p.feed_share_fraction.value)
    feed = expit(rng.normal(odds, p.feed_log_odds_sd_ratio.value, count))
    there = storage * expit(rng.normal(0.3, 1.0, count))
    made, weight, now = np.zeros(count), np.ones(count), 0.0
    for event in EVENTS:
        steps = 40
        for _ in range(steps if event.at_h > now else 0):
            slope = 1 - np.minimum(there / storage, 1) ** p.filling_power_ratio.value
            more = rate * slope * (event.at_h - now) / steps
            there, made = there + more, made + more
        now = event.at_h
        share, alike = (
            (session, p.session_alike_count.value)
            if event.kind == "session"
            else (feed, p.feed_alike_count.value)
        )
        if event.kind in {"feed", "maybe"}:
            taken = rng.beta(share * alike, (1 - share) * alike)
            there = there * (1 - taken * (rng.random(count) < (1 if event.kind == "feed" else 0.5)))
            continue
        sd = READING_SD_ML if event.kind == "session" else p.weighed_sd_ml.value
        ml = np.maximum(rng.normal(event.ml, sd, count), 0.5)
        weight *= np.where(
            ml < there,
            beta_of.pdf(np.minimum(ml / there, 1), share * alike, (1 - share) * alike) / there,
            0,
        )
        there = np.maximum(there - ml, 0)
    return quantiles(made, weight / weight.sum())


def test_it_is_what_a_brute_force_of_many_courses_finds() -> None:
    found = courses(EVENTS, PARAMETERS, READING_SD_ML, seed=1)
    assert found is not None
    assert quantiles(found.made_ml, found.weight) == pytest.approx(brute(400_000, 5), rel=0.05)
    assert float(found.weight.sum()) == pytest.approx(1)


def test_the_same_seed_gives_the_same_bits_and_another_nearly_the_same_answer() -> None:
    first, again, other = (
        courses(EVENTS, PARAMETERS, READING_SD_ML, seed=one) for one in (1, 1, 2)
    )
    assert first is not None
    assert again is not None
    assert other is not None
    assert first.made_ml.tobytes() == again.made_ml.tobytes()
    assert first.weight.tobytes() == again.weight.tobytes()
    assert quantiles(first.made_ml, first.weight) == pytest.approx(
        quantiles(other.made_ml, other.weight), rel=0.05
    )


def test_a_weighed_feed_narrows_the_answer() -> None:
    bare = [Event(0, "session", 60), Event(4, "feed"), Event(8, "session", 60)]
    weighed = [bare[0], Event(4, "weighed", 50), bare[2]]
    wide, narrow = (
        quantiles(found.made_ml, found.weight)
        for found in (courses(one, PARAMETERS, READING_SD_ML, seed=1) for one in (bare, weighed))
        if found is not None
    )
    assert narrow[2] / narrow[0] < 0.8 * wide[2] / wide[0]


def test_volumes_that_no_breast_gives_fit_no_course() -> None:
    events = [Event(0, "session", 10), Event(0.5, "session", 900), Event(1, "session", 900)]
    assert courses(events, PARAMETERS, READING_SD_ML, seed=1) is None


@pytest.mark.parametrize("ml", [0.0, 0.4, 5.0])
def test_next_to_nothing_is_an_answer_too(ml: float) -> None:
    events = [Event(at, "session", ml) for at in (0, 3, 6)]
    found = courses(events, PARAMETERS, READING_SD_ML, seed=1)
    assert found is not None
    assert np.isfinite(found.made_ml).all()
    assert (found.made_ml >= 0).all()
