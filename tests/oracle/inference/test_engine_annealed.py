"""The engine's posterior by a route that knows of no mode: annealed from the prior.

Thousands of courses drawn from the prior; the likelihood is let in by degrees, so much at a time that
six of ten courses stay effective, and after each degree every course takes steps of a random walk
(Metropolis) that leave what is possible so far as it is: a long tail is walked along, and the top with the mass
is found wherever it lies. Faults: it uses the engine's own course and likelihood, so it judges the search, the
proposals and the weighting alone; two tops of equal mass it weighs badly.
"""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, QUESTION, THRIVING, weights
from suffice.inference.evidence import DiaperCount, TestWeighing
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.outlook import look_out
from suffice.inference.infant.posterior import resample, sample

COURSES, STEPS, LAST_STEPS = 2000, 12, 60
KEPT = 0.6
ACCEPTED = 0.25


def next_degree(log_likelihood, degree):
    """The furthest degree at which enough of the courses stay effective."""

    def effective(at):
        share = np.exp((at - degree) * (log_likelihood - log_likelihood.max()))
        return share.sum() ** 2 / (share**2).sum()

    if effective(1.0) >= KEPT * len(log_likelihood):
        return 1.0
    low, high = degree, 1.0
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if effective(middle) > KEPT * COURSES else (low, middle)
    return low


def annealed(likelihood, seed):
    """Latents drawn from the posterior, (COURSES, n_latents)."""

    def log_likelihood(z):
        return likelihood.log_likelihood(likelihood.predictors(z))

    rng, count = np.random.default_rng(seed), likelihood.latents_count
    z = rng.standard_normal((COURSES, count))
    logs, degree, scale = log_likelihood(z), 0.0, 2.38 / np.sqrt(count)
    while degree < 1.0:
        furthest = next_degree(logs, degree)
        share = np.cumsum(np.exp((furthest - degree) * (logs - logs.max())))
        places = (np.arange(COURSES) + rng.random()) / COURSES * share[-1]
        chosen = np.minimum(np.searchsorted(share, places), COURSES - 1)
        z, logs, degree = z[chosen], logs[chosen], furthest
        for step in range(LAST_STEPS if degree == 1.0 else STEPS):
            root = np.linalg.cholesky(np.cov(z.T) + 1e-9 * np.eye(count))
            away = rng.standard_normal((COURSES, count)) @ root.T
            if step % 2:  # the way from one course to another follows a bent ridge
                one, other = rng.integers(COURSES, size=(2, COURSES))
                away = (z[one] - z[other]) / np.sqrt(2) + 0.02 * away
            tried = z + scale * away
            tried_logs = log_likelihood(tried)
            gained = degree * (tried_logs - logs)
            gained -= 0.5 * (np.vecdot(tried, tried) - np.vecdot(z, z))
            taken = np.log(rng.random(COURSES)) < gained
            z = np.where(taken[:, None], tried, z)
            logs = np.where(taken, tried_logs, logs)
            scale *= np.exp(0.3 * (taken.mean() - ACCEPTED))
    return z


def slow(ml_of_a_day, *pairs, birth_g, diapers=()):
    day = TestWeighing(
        id="t", age_d=pairs[-1][0], transfer_g=ml_of_a_day, feeds_count=8, whole_day=True
    )
    return msgspec.structs.replace(
        THRIVING,
        now_d=pairs[-1][0] + 0.1,
        birth_weight_g=birth_g,
        weights=weights(*pairs),
        test_weighings=(day,),
        diapers=diapers,
    )


COUNTS = (
    DiaperCount(id="d1", kind="wet", age_d=16.0, count=5, span_d=1.0),
    DiaperCount(id="d2", kind="stool", age_d=16.0, count=3, span_d=1.0),
)
HARD = {
    # The top where the weighed day is wrong is the nearer one, and e^9 times less likely.
    "a weighed day that fits badly": slow(208.0, (4.0, 2850.0), (6.0, 2820.0), birth_g=2979.0),
    "a long tail": slow(
        320.0, (6.0, 3160.0), (11.0, 3215.0), (16.0, 3270.0), birth_g=3400.0, diapers=COUNTS
    ),
}


@pytest.mark.parametrize("name", HARD)
def test_the_posterior_agrees_with_one_annealed_from_the_prior(name):
    likelihood = Likelihood(HARD[name], POPULATION)
    other = look_out(likelihood, annealed(likelihood, 1), QUESTION, np.random.default_rng(0))
    for seed in range(4):
        rng = np.random.default_rng(seed)
        draws = sample(likelihood, rng, effective_least=400.0)
        assert draws.effective >= 400
        mine = look_out(likelihood, draws.z[resample(draws, 1024, rng)], QUESTION, rng)
        short, other_short = (np.mean(one.least_share < 1) for one in (mine, other))
        assert short == pytest.approx(other_short, abs=0.08)
        for got, truth in (
            (mine.gain_g_d, other.gain_g_d),
            (mine.breast_ml_d, other.breast_ml_d),
            (mine.weight_g, other.weight_g),
        ):
            levels = (0.1, 0.25, 0.5, 0.75, 0.9)
            off = (np.quantile(got, levels) - np.quantile(truth, levels)) / truth.std()
            # 30 seeds against a run of 3000 courses: .27 at worst; that run against another: .11.
            assert np.abs(off).max() < 0.4
