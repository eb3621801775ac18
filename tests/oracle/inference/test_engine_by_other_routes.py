"""The engine's course and posterior, computed a second and a third time by other means.

Oracle 1, stepping: Heun's rule with 96 steps a day through the energy balance, written here from
the equations. Faults: it shares the parameters and the knots of the drift.

Oracle 2, brute force: a population in which only two latents vary (lasting supply and birth
weight); the posterior is summed over a fine grid of both. Faults: it uses the engine's own course
and its densities of weighing errors, so it judges the search and the weighting alone.

Oracle 3, importance sampling from the prior of the full model with 200,000 draws. Faults: usable
only where evidence is weak (two weights here); its own error is a few per cent of an SD.

Oracle 4, the No-U-Turn sampler on a second writing of the model (tools/validate/mcmc.py, where its
faults stand); a few infants here, more than a hundred in the validation.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, QUESTION, STRUGGLING, THRIVING, weights
from suffice.inference.evidence import DiaperCount, MilkGiven, TestWeighing
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.model import LATENTS_COUNT, Birth, Course, drift_matrix
from suffice.inference.infant.outlook import look_out
from suffice.inference.infant.posterior import resample, sample

change = msgspec.structs.replace
STEPS = 96


def stepped(z, born, milk_ml_d, until_d):
    """Weight (kg per kg) and intake at the breast (mL/kg/d) of one draw, by Heun's rule."""
    p = POPULATION
    t = np.arange(0, until_d + 1 / STEPS, 1 / STEPS)
    u = z[LATENTS_COUNT : LATENTS_COUNT + len(drift_matrix(t, p))] @ drift_matrix(t, p)
    birth_kg = (born.weight_g + p.noise_birth_weight_g * z[8]) / 1000
    level = (
        p.energy_log
        + p.supply_birth_weight_slope * np.log(birth_kg / p.birth_weight_reference_kg)
        + p.supply_boy * (born.boy_fraction - 0.5)
        + p.supply_sd * (1 - np.exp(-p.supply_tail * z[0])) / p.supply_tail
        + p.supply_follows_need * p.expenditure_log_sd * z[5]
    )
    t50 = p.onset_vaginal_d if born.caesarean_fraction == 0 else p.onset_caesarean_d
    t50, width = (
        t50 * np.exp(p.onset_log_sd * z[1]),
        p.onset_width_d * np.exp(p.onset_width_log_sd * z[2]),
    )
    onset = p.colostrum_fraction + (1 - p.colostrum_fraction) / (1 + np.exp((t50 - t) / width))
    energy = np.exp(level + u) * onset * (1 - p.maturation_fraction * np.exp(-t / p.maturation_d))
    rho = np.exp(p.density_log_sd * z[6])
    breast = energy / (p.density_later * rho)
    r = p.density_birth + (p.density_later - p.density_birth) * (1 - np.exp(-t / p.density_d))
    h = p.expenditure_later - (p.expenditure_later - p.expenditure_birth) * np.exp(
        -t / p.expenditure_d
    )
    eps = np.exp(p.expenditure_log_sd * z[5])
    cost = 1000 * p.tissue_cost * np.exp(p.tissue_cost_log_sd * z[7])
    f0 = p.excess_vaginal if born.caesarean_fraction == 0 else p.excess_caesarean
    fluid = (
        f0
        * np.exp(p.excess_log_sd * z[3])
        * np.exp(-t / (p.excess_d * np.exp(p.excess_d_log_sd * z[4])))
    )
    given = milk_ml_d / birth_kg
    fluid = fluid + p.content_fraction * (breast + given) / 1000
    supply = breast * r * rho + given * p.given_milk_density
    x = np.empty(len(t))
    x[0] = 1 - fluid[0]
    for j in range(len(t) - 1):
        slope = (supply[j] - eps * h[j] * (x[j] + fluid[j])) / cost
        ahead = x[j] + slope / STEPS
        next_slope = (supply[j + 1] - eps * h[j + 1] * (ahead + fluid[j + 1])) / cost
        x[j + 1] = x[j] + (slope + next_slope) / 2 / STEPS
    return t, x + fluid, breast


def mean_loss_percent(fluids_ml):
    """Mean loss of the model's vaginal births 60 h after birth, percent of birth weight."""
    born = Birth.from_evidence(
        change(THRIVING, mode="vaginal", intrapartum_fluids_ml=fluids_ml), POPULATION
    )
    course = Course(POPULATION, born, np.array([2.5]), (), LATENTS_COUNT)
    draws = np.random.default_rng(11).standard_normal((4000, LATENTS_COUNT + course.knots_count))
    return 100.0 * float(1.0 - course.paths(draws).total.mean())


def test_fluids_in_labour_change_the_loss_as_published():
    """Noel-Weiss 2011 (Int Breastfeed J 6:9, abstract): 5.51 % after at most 1200 mL, 6.93 % after more.

    Fault: the two constants were computed from these figures; this holds their size and sign.
    """
    few, much = mean_loss_percent(800.0), mean_loss_percent(2000.0)
    assert much - few == pytest.approx(6.93 - 5.51, abs=0.25)
    assert few < mean_loss_percent(None) < much


@pytest.mark.parametrize("caesarean", [0.0, 1.0])
@pytest.mark.parametrize("milk_ml_d", [0.0, 120.0])
def test_the_course_agrees_with_stepping_through_time(caesarean, milk_ml_d):
    born = Birth(3400.0, 0.5, caesarean)
    ages = np.array([0.5, 1.0, 2.3, 4.0, 7.0, 10.5, 14.0, 21.0, 28.0, 40.0])
    # A steady supplement from birth: one small volume an hour, each spread over a day.
    milk = tuple(
        MilkGiven(id=str(k), age_d=k / 24, volume_ml=milk_ml_d / 24)
        for k in range(-12, 24 * 55)
        if milk_ml_d and k >= 0
    )
    course = Course(POPULATION, born, ages, milk, LATENTS_COUNT)
    z = np.random.default_rng(5).standard_normal((6, LATENTS_COUNT + course.knots_count + 2))
    paths = course.paths(z)
    for k in range(len(z)):
        t, weight, breast = stepped(z[k], born, milk_ml_d, 41.0)
        # 2 g for the trapezoid; a supplement's start is blurred by half a day of 120 mL.
        tolerance_g = 2.0 + milk_ml_d / 4
        off = 1000 * paths.birth_kg[k] * (paths.total[k] - np.interp(ages, t, weight))
        assert np.abs(off).max() < tolerance_g
        np.testing.assert_allclose(paths.breast_ml_kg_d[k], np.interp(ages, t, breast), rtol=2e-3)


def test_two_latents_summed_over_a_grid_give_the_same_posterior():
    still = dict.fromkeys(("onset_log_sd", "onset_width_log_sd", "excess_log_sd", "excess_d_log_sd", "expenditure_log_sd", "density_log_sd", "tissue_cost_log_sd", "drift_sd", "drift_start_sd", "noise_log_sd"), 1e-09)  # fmt: skip
    population = replace(POPULATION, supply_sd=0.3, **still)
    evidence = change(THRIVING, weights=weights((3.0, 3190.0), (10.0, 3390.0)))
    likelihood = Likelihood(evidence, population)
    rng = np.random.default_rng(1)
    draws = sample(likelihood, rng, effective_least=400.0)
    mine = look_out(likelihood, draws.z[resample(draws, 4096, rng)], QUESTION, rng)

    side = np.linspace(-6, 6, 401)
    supply, birth = np.meshgrid(side, side)
    z = np.zeros((supply.size, likelihood.latents_count))
    z[:, 0], z[:, 8] = supply.ravel(), birth.ravel()
    logs = likelihood.log_likelihood(likelihood.predictors(z)) - 0.5 * (z**2).sum(axis=1)
    share = np.exp(logs - logs.max())
    share /= share.sum()
    kept = share > 1e-12
    theirs = look_out(likelihood, z[kept], QUESTION, None)
    share = share[kept]
    for name in ("gain_g_d", "breast_ml_d", "weight_g"):
        values = getattr(theirs, name)
        mean = float(share @ values)
        sd = float(np.sqrt(share @ (values - mean) ** 2))
        assert abs(float(getattr(mine, name).mean()) - mean) < 0.06 * sd, name
        assert float(getattr(mine, name).std()) == pytest.approx(sd, rel=0.06), name


@pytest.mark.parametrize(
    "extra",
    [
        {},
        {"test_weighings": (TestWeighing(id="t", age_d=5.0, transfer_g=30.0),)},
        {"diapers": (DiaperCount(id="d", kind="wet", age_d=5.0, count=3),)},
    ],
    ids=["weights", "a weighed feed", "diapers"],
)
def test_importance_sampling_from_the_prior_gives_the_same_posterior(extra):
    evidence = change(STRUGGLING, now_d=5.0, weights=weights((2.0, 3130.0), (5.0, 3080.0)), **extra)
    likelihood = Likelihood(evidence, POPULATION)
    rng = np.random.default_rng(2)
    draws = sample(likelihood, rng, effective_least=400.0)
    mine = look_out(likelihood, draws.z[resample(draws, 4096, rng)], QUESTION, rng)
    z = rng.standard_normal((200_000, likelihood.latents_count))
    logs = likelihood.log_likelihood(likelihood.predictors(z))
    share = np.exp(logs - logs.max())
    share /= share.sum()
    assert 1 / (share**2).sum() > 1000, "the oracle itself must be good enough"
    kept = share > 1e-9
    theirs, share = look_out(likelihood, z[kept], QUESTION, rng), share[kept] / share[kept].sum()
    for name in ("gain_g_d", "breast_ml_d", "weight_g"):
        values = getattr(theirs, name)
        mean = float(share @ values)
        sd = float(np.sqrt(share @ (values - mean) ** 2))
        assert abs(float(getattr(mine, name).mean()) - mean) < 0.12 * sd, name
        assert float(getattr(mine, name).std()) == pytest.approx(sd, rel=0.12), name


@pytest.mark.slow
def test_the_no_u_turn_sampler_gives_the_same_posterior(monkeypatch):
    pytest.importorskip("numpyro")
    monkeypatch.setattr(sys, "path", [str(Path(__file__).resolve().parents[3]), *sys.path])
    mcmc = pytest.importorskip("tools.validate.mcmc")
    sampler = mcmc.Sampler(POPULATION)
    for seed, evidence in enumerate((THRIVING, STRUGGLING)):
        theirs, effective = sampler.draw(evidence, seed)
        assert effective > 500
        likelihood = Likelihood(evidence, POPULATION)
        rng = np.random.default_rng(seed)
        draws = sample(likelihood, rng, effective_least=400.0)
        mine = look_out(likelihood, draws.z[resample(draws, 4096, rng)], QUESTION, rng)
        for name, values in (("gain", mine.gain_g_d), ("intake", mine.breast_ml_d)):
            sd = theirs[name].std()
            assert abs(values.mean() - theirs[name].mean()) < 0.15 * sd
            assert values.std() == pytest.approx(sd, rel=0.15)
