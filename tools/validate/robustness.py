"""What happens when the infant or the weighing is not what the engine supposes."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import numpy as np
from rich.progress import Progress
from tools.validate.examiner import PLAIN, SCHEDULES, Infant, Schedule, World, infants
from tools.validate.scoring import rmse

from suffice.inference.estimate import Estimate, Question
from suffice.inference.infant.answer import answer
from suffice.inference.infant.population import Population

SIX = Schedule("H", "birth and 6 weights to day 14", (2, 4, 6, 8, 11, 14))
TWO_SCHEDULES = (SCHEDULES["B"], SIX)
SUPPLEMENT_ML_D = 150.0
NAMED_FROM = 0.5
"""Probability of being wrong from which a weight counts as named, beside one that is mentioned."""
IN_THE_SENTENCE = frozenset(
    {
        "+250 g on the last weight, state not known",
        "+250 g on the last weight, entered as naked",
        "second scale +60 g, not recorded",
        "noise of 60 g",
        "volatile intake (drift doubled)",
    }
)
"""Scenarios that the sentence on every answer names (`suffice.inference.estimate.LIMITS_SENTENCE`)."""
NOTES = frozenset({"noisy-scale"})
"""Notes that are counted with the cautions; the others stand on most answers."""
SCENARIOS: dict[str, tuple[World, dict[str, object]]] = {
    "reference": (PLAIN, {}),
    "+250 g on the last weight but one, state not known": (
        World(spoil_index=-2, spoil_g=250.0, spoil_clothing=None), {}),
    "+250 g on the last weight, state not known": (
        World(spoil_index=-1, spoil_g=250.0, spoil_clothing=None), {}),
    "+250 g on the last weight, entered as naked": (World(spoil_index=-1, spoil_g=250.0), {}),
    "second scale +60 g, not recorded": (
        World(second_scale_from=2, second_scale_bias_g=60.0, second_scale_recorded=False), {}),
    "second scale +60 g, recorded": (World(second_scale_from=2, second_scale_bias_g=60.0), {}),
    "noise of 60 g": (World(weight_noise_g=60.0), {}),
    "expenditure +12 %": (World(expenditure_factor=1.12), {}),
    "cost of tissue +25 %": (World(cost_factor=1.25), {}),
    "volatile intake (drift doubled)": (World(drift_factor=2.0), {}),
    "preterm-like (late onset, expenditure +10 %)": (
        World(onset_factor=1.25, expenditure_factor=1.1), {"gestation_days": 250}),
    "twin-like (supply -20 %)": (World(supply_shift_log=float(np.log(0.8))), {"multiple_count": 2}),
    "supplement 150 mL a day, recorded": (
        World(supplement_ml_d=SUPPLEMENT_ML_D, supply_shift_log=float(np.log(0.8))), {}),
    "supplement 150 mL a day, not recorded": (
        World(supplement_ml_d=SUPPLEMENT_ML_D, supply_shift_log=float(np.log(0.8)),
              supplement_recorded=False), {}),
}  # fmt: skip


def judge_robustness(
    p: Population, question: Question, n: int, seed: int, progress: Progress
) -> dict[str, dict[str, dict[str, object]]]:
    """Scores by schedule and scenario."""
    found: dict[str, dict[str, dict[str, object]]] = {}
    for schedule in TWO_SCHEDULES:
        found[schedule.name] = {}
        for name, (world, facts) in progress.track(
            SCENARIOS.items(), description=f"robustness {schedule.name}"
        ):
            examined = infants(p, schedule, n, seed, world)
            if facts:
                examined = [
                    replace(i, evidence=msgspec.structs.replace(i.evidence, **facts))
                    for i in examined
                ]
            estimates = [answer(i.evidence, p, question, k) for k, i in enumerate(examined)]
            found[schedule.name][name] = _scores(examined, estimates)
    return found


def _scores(examined: list[Infant], estimates: list[Estimate]) -> dict[str, object]:
    error = np.array([t.gain.median - i.gain_g_d for t, i in zip(estimates, examined, strict=True)])
    inside = [
        t.gain.low_80 <= i.gain_g_d <= t.gain.high_80
        for t, i in zip(estimates, examined, strict=True)
    ]
    inside_intake = [
        t.breast_intake.low_80 <= i.intake_ml_d <= t.breast_intake.high_80
        for t, i in zip(estimates, examined, strict=True)
    ]
    intake = [
        t.breast_intake.median - i.intake_ml_d for t, i in zip(estimates, examined, strict=True)
    ]
    codes = [
        {c.code for c in t.cautions if c.severity != "note" or c.code in NOTES} for t in estimates
    ]
    every = sorted(set().union(*codes))
    return {
        "rmse_gain": rmse(error),
        "cover_80_gain": float(np.mean(inside)),
        "cover_80_intake": float(np.mean(inside_intake)),
        "bias_intake": float(np.mean(intake)),
        "any_caution_share": float(np.mean([bool(c) for c in codes])),
        "cautions": {code: float(np.mean([code in c for c in codes])) for code in every},
    }


def judge_flags(
    p: Population, question: Question, n: int, seed: int, progress: Progress
) -> dict[str, dict[str, float]]:
    """Share of spoilt weights that are named, and of sound ones that are, at both thresholds."""
    found = {}
    for schedule in TWO_SCHEDULES:
        place = f"w{len(schedule.weights_d) - 2}"
        spoilt = World(outlier_fraction=0.0, spoil_index=-2, spoil_g=250.0, spoil_clothing=None)
        hits, false, of = {"noted": 0, "named": 0}, {"noted": 0, "named": 0}, 0
        for world, good in ((spoilt, False), (World(outlier_fraction=0.0), True)):
            examined = infants(p, schedule, n, seed, world)
            for k, infant in enumerate(
                progress.track(examined, description=f"flags {schedule.name}")
            ):
                estimate = answer(infant.evidence, p, question, k)
                for level, least in (
                    ("noted", p.suspect_noted_probability),
                    ("named", NAMED_FROM),
                ):
                    flagged = {s.reading_id for s in estimate.suspects if s.probability >= least}
                    if good:
                        false[level] += len(flagged)
                    else:
                        hits[level] += place in flagged
                of += len(infant.evidence.weights) if good else 0
        found[schedule.name] = {
            **{f"{level}_share": hits[level] / n for level in hits},
            **{f"{level}_false_share": false[level] / of for level in false},
        }
    return found
