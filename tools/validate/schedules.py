"""The engine on simulated infants of each schedule, beside the rules of practice."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from rich.progress import Progress
from tools.validate.examiner import PLAIN, SCHEDULES, Infant, Schedule, World, infants
from tools.validate.rules import RULE_ML_KG, USUAL_GAIN_G_D, Regression, practice
from tools.validate.scoring import auroc, brier, coverage, crps_of_draws, crps_of_normal, rank, rmse

from suffice.inference.estimate import Question
from suffice.inference.evidence import Evidence
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.outlook import fraction, look_out
from suffice.inference.infant.population import Population
from suffice.inference.infant.posterior import resample, sample

DRAWS = 1024
TRAINING_INFANTS = 3000
WEEK = 7
QUANTITIES = ("intake", "gain", "weight_7")


@dataclass(frozen=True)
class Computed:
    """The engine's draws for one infant."""

    intake: np.ndarray
    gain: np.ndarray
    weight: np.ndarray
    weight_7: np.ndarray
    short: float
    not_regained: float
    effective: float
    milliseconds: float


def truth(infant: Infant, quantity: str) -> float:
    return {
        "intake": infant.intake_ml_d,
        "gain": infant.gain_g_d,
        "weight_7": infant.weight_7_g,
    }[quantity]


def compute(evidence: Evidence, p: Population, question: Question, seed: int) -> Computed:
    """The same steps as `answer`, keeping the draws."""
    start = time.process_time()
    likelihood = Likelihood(evidence, p)
    rng = np.random.default_rng(seed)
    draws = sample(likelihood, rng, effective_least=p.effective_draws_least)
    outlook = look_out(likelihood, draws.z[resample(draws, DRAWS, rng)], question, rng)
    return Computed(
        intake=outlook.breast_ml_d.copy(),
        gain=outlook.gain_g_d.copy(),
        weight=outlook.weight_g.copy(),
        weight_7=outlook.fan_g[:, WEEK].copy(),
        short=fraction(outlook.least_share < 1),
        not_regained=fraction(outlook.regain_day_ratio < 1),
        effective=draws.effective,
        milliseconds=1000 * (time.process_time() - start),
    )


def judge(
    schedule: Schedule,
    p: Population,
    question: Question,
    n: int,
    seed: int,
    progress: Progress,
    world: World = PLAIN,
) -> dict[str, object]:
    """All scores of one schedule."""
    limit = question.gain_limit_g_per_day
    examined = infants(p, schedule, n, seed, world)
    learnt = infants(p, schedule, TRAINING_INFANTS, seed + 1_000_003, world)
    computed = []
    for k, infant in enumerate(progress.track(examined, description=f"schedule {schedule.name}")):
        computed.append(compute(infant.evidence, p, question, k))
    two = [practice(infant.evidence) for infant in examined]
    noise = float(np.hypot(p.noise_physiological_g, p.noise_scale_g))
    found: dict[str, object] = {
        "n": n,
        "says": schedule.says,
        "milliseconds_median": float(np.median([r.milliseconds for r in computed])),
        "milliseconds_p95": float(np.percentile([r.milliseconds for r in computed], 95)),
        "few_effective_share": float(
            np.mean([r.effective < p.effective_draws_least for r in computed])
        ),
    }
    naive = {
        "intake": np.array([RULE_ML_KG * t.last_g / 1000 for t in two]),
        "gain": np.array([t.gain_g_d for t in two]),
        "weight_7": np.array([t.last_g + WEEK * USUAL_GAIN_G_D for t in two]),
    }
    slope = np.array([t.last_g + WEEK * t.gain_g_d for t in two])
    for quantity in QUANTITIES:
        truths = np.array([truth(i, quantity) for i in examined])
        draws = [np.sort(getattr(r, quantity)) for r in computed]
        ranks = np.array([rank(d, t) for d, t in zip(draws, truths, strict=True)])
        trained = Regression.train(learnt, np.array([truth(i, quantity) for i in learnt]))
        predicted = trained.predict(examined)
        scores = {
            "rmse": rmse(np.array([np.mean(d) for d in draws]) - truths),
            "crps": float(
                np.mean([crps_of_draws(d, t) for d, t in zip(draws, truths, strict=True)])
            ),
            "rmse_practice": rmse(naive[quantity] - truths),
            "crps_practice": float(np.mean(np.abs(naive[quantity] - truths))),
            "rmse_regression": rmse(predicted - truths),
            "crps_regression": crps_of_normal(predicted, trained.sd, truths),
            **coverage(ranks),
        }
        if quantity == "weight_7":
            scores["rmse_slope"] = rmse(slope - truths)
        found[quantity] = scores
    slow = np.array([i.gain_g_d < limit for i in examined])
    slow_probability = np.array([fraction(r.gain < limit) for r in computed])
    hard = np.array([float(t.gain_g_d < limit) for t in two])
    soft = np.array([t.below(limit, noise) for t in two])
    below = np.array([not i.regained_by_14 for i in examined])
    regain = np.array([r.not_regained for r in computed])
    short = np.array([i.intake_ml_d < i.requirement_ml_d for i in examined])
    share = np.array([r.short for r in computed])
    found["slow_gain"] = {
        "prevalence": float(slow.mean()),
        "auroc": auroc(slow_probability, slow),
        "auroc_practice": auroc(-np.array([t.gain_g_d for t in two]), slow),
        "brier": brier(slow_probability, slow),
        "brier_practice": brier(hard, slow),
        "brier_practice_normal": brier(soft, slow),
    }
    found["short_intake"] = {
        "prevalence": float(short.mean()), "auroc": auroc(share, short), "brier": brier(share, short),
    }  # fmt: skip
    found["not_regained"] = {"prevalence": float(below.mean()), "brier": brier(regain, below)}
    return found


def judge_all(
    p: Population, question: Question, n: int, seed: int, progress: Progress, world: World = PLAIN
) -> dict[str, dict[str, object]]:
    """The scores of every schedule by its name."""
    return {
        name: judge(schedule, p, question, n, seed + 101 * k, progress, world)
        for k, (name, schedule) in enumerate(SCHEDULES.items())
    }
