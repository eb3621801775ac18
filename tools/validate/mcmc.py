"""The same posterior by another route: the No-U-Turn sampler on a second writing of the model.

Written in jax from the equations, not from suffice.inference: a uniform grid of 1/4 day and its
own trapezoid sum, the size of a single weighed feed and the noise of weighing as latents of their
own where the engine integrates them out.

Faults of this oracle: it shares the parameters and the equations with the engine, so a wrong
equation passes; its own Monte Carlo error is about 0.02 to 0.03 posterior SD; one chain per infant
can miss a second mode of an outlying weight; the grid differs, which moves weights by up to 1 g; a gross slip
is flat here and a very wide normal there.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
from numpyro.diagnostics import effective_sample_size
from numpyro.infer import MCMC, NUTS
from rich.progress import Progress
from tools.validate.examiner import SCHEDULES, Infant, infants
from tools.validate.schedules import compute

from suffice.inference.estimate import Question
from suffice.inference.evidence import Evidence
from suffice.inference.infant.population import Population

jax.config.update("jax_enable_x64", True)  # noqa: FBT003
STEP_D = 0.25
WARM_UP, KEPT = 400, 2500
LEAST_EFFECTIVE = 1000.0
RANKS = (np.arange(512) + 0.5) / 512
FIRST_OF_THE_TELLING = "gain_window_d"
"""The population's fields from here on say what is reported and how, not what infants are like."""


def _setup(evidence: Evidence, p: Population) -> dict[str, np.ndarray]:
    """The evidence as arrays; shapes depend on the schedule alone, so that jax compiles once."""
    t = np.arange(0, evidence.now_d + STEP_D, STEP_D)
    weights = sorted(evidence.weights, key=lambda r: r.age_d)
    knots = np.arange(0, evidence.now_d + p.drift_knot_d, p.drift_knot_d)
    basis = np.array([np.interp(t, knots, row) for row in np.eye(len(knots))])
    tests = evidence.test_weighings
    counts = sorted(evidence.diapers, key=lambda d: (d.age_d, d.id))
    lines = {"wet": (p.wet_intercept, p.wet_slope), "stool": (p.stool_intercept, p.stool_slope)}
    return {
        "t": t,
        "basis": basis,
        "weight_at": np.array([round(r.age_d / STEP_D) for r in weights]),
        "weight_g": np.array([r.weight_g for r in weights]),
        "birth_g": np.array(evidence.birth_weight_g),
        "boy": np.array(float(evidence.sex == "male")),
        "caesarean": np.array(float(evidence.mode == "caesarean")),
        "test_g": np.array([x.transfer_g for x in tests]),
        "whole": np.array([x.whole_day for x in tests], dtype=bool),
        "fed": np.array([float(x.feeds_count) for x in tests]),
        "feeds": np.array(evidence.feeds_per_day or p.feeds_per_day),
        "count": np.array([float(d.count) for d in counts]),
        "count_at": np.array([round((d.age_d - 0.5) / STEP_D) for d in counts], dtype=int),
        "line": np.array([lines[d.kind] for d in counts]).reshape(-1, 2),
        "stool": np.array([int(d.kind == "stool") for d in counts], dtype=int),
    }


def _model(d: dict[str, jnp.ndarray], p: Population) -> None:
    """The model as numpyro sees it; intake, gain and the forecast's start are deterministic."""
    t, knots = d["t"], d["basis"].shape[0]
    z = numpyro.sample("z", dist.Normal(0, 1).expand([9]).to_event(1))
    e = numpyro.sample("e", dist.Normal(0, 1).expand([knots]).to_event(1))
    noise = numpyro.sample("noise", dist.Normal(0, 1))
    keep = np.exp(-p.drift_knot_d / p.drift_d)
    u = [e[0] * jnp.hypot(p.drift_sd, p.drift_start_sd)]
    for k in range(1, knots):
        u.append(keep * u[-1] + p.drift_sd * jnp.sqrt(1 - keep**2) * e[k])
    drift = jnp.stack(u) @ d["basis"]
    birth = (d["birth_g"] + p.noise_birth_weight_g * z[8]) / 1000
    level = (
        p.energy_log
        + p.supply_birth_weight_slope * jnp.log(birth / p.birth_weight_reference_kg)
        + p.supply_boy * (d["boy"] - 0.5)
        + p.supply_sd * (1 - jnp.exp(-p.supply_tail * z[0])) / p.supply_tail
        + p.supply_follows_need * p.expenditure_log_sd * z[5]
    )
    mix = d["caesarean"]
    t50 = (p.onset_vaginal_d * (1 - mix) + p.onset_caesarean_d * mix) * jnp.exp(
        p.onset_log_sd * z[1]
    )
    width = p.onset_width_d * jnp.exp(p.onset_width_log_sd * z[2])
    onset = p.colostrum_fraction + (1 - p.colostrum_fraction) * jax.nn.sigmoid((t - t50) / width)
    energy = (
        jnp.exp(level + drift) * onset * (1 - p.maturation_fraction * jnp.exp(-t / p.maturation_d))
    )
    rho = jnp.exp(p.density_log_sd * z[6])
    intake = energy / (p.density_later * rho)
    r = p.density_birth + (p.density_later - p.density_birth) * (1 - jnp.exp(-t / p.density_d))
    h = p.expenditure_later - (p.expenditure_later - p.expenditure_birth) * jnp.exp(
        -t / p.expenditure_d
    )
    eps, c = (
        jnp.exp(p.expenditure_log_sd * z[5]),
        p.tissue_cost * jnp.exp(p.tissue_cost_log_sd * z[7]),
    )
    f0 = (p.excess_vaginal * (1 - mix) + p.excess_caesarean * mix) * jnp.exp(p.excess_log_sd * z[3])
    fluid = f0 * jnp.exp(-t / (p.excess_d * jnp.exp(p.excess_d_log_sd * z[4])))
    fluid = fluid + p.content_fraction * intake / 1000
    rate = eps * h / (1000 * c)
    pull = jnp.concatenate([jnp.zeros(1), jnp.cumsum((rate[1:] + rate[:-1]) / 2 * STEP_D)])
    q = (intake * r * rho / (1000 * c) - rate * fluid) * jnp.exp(pull)
    total = jnp.concatenate([jnp.zeros(1), jnp.cumsum((q[1:] + q[:-1]) / 2 * STEP_D)])
    x = jnp.exp(-pull) * (1 - fluid[0] + total)

    expected = 1000 * birth * (x + fluid)[d["weight_at"]]
    usual = jnp.sqrt(p.noise_physiological_g**2 + p.noise_scale_g**2 + p.noise_resolution_g**2 / 12)
    sd = usual * jnp.exp(p.noise_log_sd * noise)
    wide = jnp.sqrt(usual**2 + p.outlier_sd_g**2)
    off = d["weight_g"] - expected
    right = jnp.log(1 - p.outlier_fraction - p.gross_error_fraction) + dist.Normal(0, sd).log_prob(
        off
    )
    wrong = jnp.log(p.outlier_fraction) + dist.Normal(0, wide).log_prob(off)
    slip = jnp.log(p.gross_error_fraction / p.gross_error_range_g)
    numpyro.factor("weights", jnp.logaddexp(jnp.logaddexp(right, wrong), slip).sum())
    if d["test_g"].shape[0]:
        _weighed_feeds(d, p, birth * intake)
    if d["count"].shape[0]:
        habit = numpyro.sample("habit", dist.Normal(0, 1).expand([2]).to_event(1))
        mean = d["line"][:, 0] + d["line"][:, 1] * intake[d["count_at"]]
        mean = mean * jnp.exp(p.diaper_habit_log_sd * habit[d["stool"]])
        numpyro.sample(
            "counts", dist.NegativeBinomial2(mean, 1 / p.diaper_dispersion), obs=d["count"]
        )
    now = round(float(1 / STEP_D))
    last = len(t) - 1
    half = now // 2
    numpyro.deterministic("intake", 1000 * birth * intake[last - half] / 1000)
    window = 3 * now
    numpyro.deterministic("gain", 1000 * birth * (x[last] - x[last - window]) / 3)
    numpyro.deterministic("weight", 1000 * birth * (x + fluid)[last])


def _weighed_feeds(d: dict[str, jnp.ndarray], p: Population, intake_ml: jnp.ndarray) -> None:
    """Test weighings, with the size of the feed as a latent of its own."""
    last = intake_ml.shape[0] - 1
    day = round(1 / STEP_D) // 2
    mean = jnp.where(d["whole"], intake_ml[last - day], intake_ml[last] / d["feeds"] * d["fed"])
    part = jnp.where(d["whole"], 1.0, jnp.minimum(d["fed"] / d["feeds"], 1.0))
    spread = jnp.sqrt(p.day_log_sd**2 + (1 - part) * p.feed_log_sd**2 / d["fed"])
    count = d["test_g"].shape[0]
    size = numpyro.sample("size", dist.Normal(0, 1).expand([count]).to_event(1))
    took = (1 - p.evaporation_fraction) * mean * jnp.exp(spread * size - spread**2 / 2)
    shown = dist.Normal(took, p.test_weighing_sd_g * jnp.sqrt(d["fed"])).log_prob(d["test_g"])
    slip = jnp.log(p.gross_error_fraction / p.gross_error_range_g)
    right = jnp.log(1 - p.gross_error_fraction) + shown
    numpyro.factor("tests", jnp.logaddexp(right, slip).sum())


class Sampler:
    """NUTS for the infants of one schedule; compiled once."""

    def __init__(self, p: Population) -> None:
        self._population = p
        kernel = NUTS(lambda d: _model(d, p), target_accept_prob=0.8)
        self._mcmc = MCMC(
            kernel, num_warmup=WARM_UP, num_samples=KEPT, num_chains=1, progress_bar=False,
            jit_model_args=True,
        )  # fmt: skip

    def draw(self, evidence: Evidence, seed: int) -> tuple[dict[str, np.ndarray], float]:
        """Draws of intake, gain and present weight, and the least effective number of them."""
        setup = {k: jnp.asarray(v) for k, v in _setup(evidence, self._population).items()}
        self._mcmc.run(jax.random.PRNGKey(seed), setup)
        samples = self._mcmc.get_samples()
        kept = {k: np.asarray(samples[k]) for k in ("intake", "gain", "weight")}
        jax.clear_caches()  # each infant is compiled anew; kept, the programs fill the memory
        least = min(float(effective_sample_size(v[None])) for v in kept.values())
        return kept, least


def digest(infant: Infant, p: Population, seed: int) -> str:
    """What the oracle's draws depend on: evidence, the model's own parameters, seed, length."""
    values = {field.name: getattr(p, field.name) for field in fields(p)}
    names = list(values)
    model = [values[name] for name in names[: names.index(FIRST_OF_THE_TELLING)]]
    return hashlib.sha256(repr((infant.evidence, model, seed, KEPT, STEP_D)).encode()).hexdigest()[
        :24
    ]


def _oracle(
    infant: Infant, sampler: Sampler, p: Population, seed: int, store: Path
) -> dict[str, Any]:
    """NUTS's mean, SD and quantiles for one infant; kept in `store`, for it is slow."""
    kept = store / f"{digest(infant, p, seed)}.json"
    if not kept.exists():
        draws, effective = sampler.draw(infant.evidence, seed)
        found: dict[str, Any] = {"effective": effective}
        for quantity, values in draws.items():
            found[quantity] = {
                "mean": float(values.mean()),
                "sd": float(values.std()),
                "quantiles": np.quantile(values, RANKS).tolist(),
            }
        store.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps(found))
    return json.loads(kept.read_text())


def compare(
    infant: Infant, oracle: dict[str, Any], p: Population, question: Question, seed: int
) -> dict[str, Any]:
    """Engine against NUTS for one infant, in units of NUTS's SD."""
    mine = compute(infant.evidence, p, question, seed)
    row: dict[str, Any] = {"nuts_effective": oracle["effective"], "effective": mine.effective}
    for quantity, draws in (
        ("intake", mine.intake),
        ("gain", mine.gain),
        ("weight", mine.weight),
    ):
        theirs = oracle[quantity]
        distance = np.abs(np.quantile(draws, RANKS) - np.array(theirs["quantiles"])).mean()
        row[quantity] = {
            "mean_shift_sd": abs(float(draws.mean()) - theirs["mean"]) / theirs["sd"],
            "sd_ratio": float(draws.std()) / theirs["sd"],
            "wasserstein_sd": float(distance) / theirs["sd"],
        }
    return row


def judge_closeness(
    p: Population,
    question: Question,
    per_schedule: int,
    seed: int,
    progress: Progress,
    store: Path,
) -> dict[str, Any]:
    """Closeness over schedules: quantiles of the differences and the rows themselves."""
    rows = []
    for name in ("A", "B", "C", "C2", "D", "E", "F"):
        sampler = Sampler(p)
        examined = infants(p, SCHEDULES[name], per_schedule, seed)
        for k, infant in enumerate(progress.track(examined, description=f"NUTS {name}")):
            oracle = _oracle(infant, sampler, p, k, store)
            rows.append({"schedule": name, **compare(infant, oracle, p, question, k)})
    return {"rows": rows, **summary(rows, p)}


def summary(rows: list[dict[str, Any]], p: Population) -> dict[str, Any]:
    """Median, 90th percentile and maximum over the pairs whose oracle is good enough."""
    good = [r for r in rows if r["nuts_effective"] >= LEAST_EFFECTIVE]
    found: dict[str, Any] = {
        "pairs": len(good),
        "pairs_left_out": len(rows) - len(good),
        "pairs_flagged": sum(r["effective"] < p.effective_draws_least for r in good),
    }
    for quantity in ("intake", "gain", "weight"):
        shift, ratio, distance = (
            np.array([r[quantity][key] for r in good])
            for key in ("mean_shift_sd", "sd_ratio", "wasserstein_sd")
        )
        found[quantity] = {
            "shift_median": float(np.median(shift)),
            "shift_p90": float(np.percentile(shift, 90)),
            "shift_max": float(shift.max()),
            "sd_ratio_p05": float(np.percentile(ratio, 5)),
            "sd_ratio_p95": float(np.percentile(ratio, 95)),
            "wasserstein_p90": float(np.percentile(distance, 90)),
        }
    return found
