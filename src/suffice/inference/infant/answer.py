"""Is it enough? One answer from all the evidence, as a quick preview or in full.

:func:`preview` computes with few draws and is meant for a page that changes while it is filled in;
:func:`answer` draws until enough draws are effective and says so when they are not. Both are pure:
the same arguments give the same bits on the same machine.
"""

from __future__ import annotations

import msgspec
import numpy as np

from suffice.inference.estimate import (
    WIDTH_80,
    Diagnostics,
    Estimate,
    Influence,
    Interval,
    Question,
)
from suffice.inference.evidence import Evidence
from suffice.inference.infant.birth_weight import (
    UNFIT,
    is_unfit,
    unfit_caution,
    without_birth_weight,
)
from suffice.inference.infant.caution import Signs, about_birth, cautions, may_be_settled
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import Mode, find_best_mode, find_modes, last_weight_off, scatter
from suffice.inference.infant.outlook import (
    LEVELS,
    Outlook,
    forecast,
    fraction,
    given_to,
    interval,
    look_out,
    loss_centile,
    most_given,
    pick,
)
from suffice.inference.infant.population import Population
from suffice.inference.infant.posterior import Draws, resample, sample
from suffice.inference.infant.scrutiny import (
    SHORT_SD_LEAST,
    influences,
    strength,
    suspects,
    unfit_tests,
)
from suffice.inference.infant.weighing import next_weighing
from suffice.inference.infant.weight_evidence import weights_log_density

PREVIEW_DRAWS = 128
_ANSWER_DRAWS = 1024
_FREEDOM_LEAST = 0.5
PREVIEW_SEED = 1
_OF_SIZE = ("low-birth-weight", "high-birth-weight")
"""Codes of cautions about the size of a birth weight."""


def preview(evidence: Evidence, population: Population, question: Question) -> Estimate:
    """The quick answer: one mode, few draws, rougher intervals; it does not tell influences."""
    likelihood = Likelihood(evidence, population)
    rng = np.random.default_rng(PREVIEW_SEED)
    mode, _ = find_best_mode(likelihood, quickly=True)
    unfit_g = evidence.birth_weight_g if is_unfit(likelihood, mode) else None
    if unfit_g is not None:
        likelihood = without_birth_weight(likelihood)
        mode, _ = find_best_mode(likelihood, quickly=True)
    draws = sample(
        likelihood,
        None,
        effective_least=0.0,
        modes=(mode,),
        first_draws=PREVIEW_DRAWS,
        rounds=1,
    )
    return _said(
        _estimate_of(likelihood, draws, question, rng, full=False), evidence, population, unfit_g
    )


def answer(
    evidence: Evidence,
    population: Population,
    question: Question,
    seed: int,
    *,
    of_milk: bool = True,
) -> Estimate:
    """The full answer.

    Args:
        evidence: What is known of the infant.
        population: Parameters of the model.
        question: The limits that are asked about.
        seed: Any whole number; derive it from a hash of the evidence's source, so that the same
            record always gives the same answer.
        of_milk: Whether it is told what all milk given did to it, which takes two sketches.

    Returns:
        The estimate; `is_refused` when its numbers must not be shown.
    """
    likelihood = Likelihood(evidence, population)
    rng = np.random.default_rng(abs(seed))
    modes = find_modes(likelihood)
    unfit_g = evidence.birth_weight_g if is_unfit(likelihood, modes[0]) else None
    if unfit_g is not None:
        likelihood = without_birth_weight(likelihood)
        modes = find_modes(likelihood)
    draws = sample(likelihood, rng, effective_least=population.effective_draws_least, modes=modes)
    estimate = _said(
        _estimate_of(likelihood, draws, question, rng, full=True), evidence, population, unfit_g
    )
    milk = _influence_of_milk(evidence, population, question) if of_milk else None
    if milk is None:
        return estimate
    ordered = sorted((*estimate.influences, milk), key=strength)
    return msgspec.structs.replace(estimate, influences=tuple(ordered))


def _said(
    estimate: Estimate, evidence: Evidence, population: Population, unfit_g: float | None
) -> Estimate:
    """The estimate; that birth weight is not known becomes that it was left out, where it was.

    What its size gives reason for is said all the same: nobody knows yet that it is wrong.
    """
    if unfit_g is None:
        return estimate
    told = [
        unfit_caution(unfit_g) if one.code == "birth-weight-unknown" else one
        for one in estimate.cautions
    ]
    place = 1 + next(k for k, one in enumerate(told) if one.code == UNFIT)
    told[place:place] = [one for one in about_birth(evidence, population) if one.code in _OF_SIZE]
    return msgspec.structs.replace(estimate, cautions=tuple(told))


def _influence_of_milk(
    evidence: Evidence, population: Population, question: Question
) -> Influence | None:
    """What all milk given did, by two sketches, one of which knows of none.

    A volume enters the balance as known, so that no reweighting of draws can take it out.
    """
    if not any(m.volume_ml > 0 and m.age_d <= evidence.now_d for m in evidence.milk_given):
        return None
    with_milk = preview(evidence, population, question)
    none_given = msgspec.structs.replace(evidence, milk_given=())
    without = preview(none_given, population, question)
    gain = with_milk.gain.median - without.gain.median
    intake = with_milk.breast_intake.median - without.breast_intake.median
    short = with_milk.intake_short_probability - without.intake_short_probability
    in_sd = (
        gain / _sd(with_milk.gain),
        intake / _sd(with_milk.breast_intake),
        short / SHORT_SD_LEAST,
    )
    return Influence(
        reading_id="milk given",
        kind="milk given",
        shift_sd=max(map(abs, in_sd)),
        gain_shift_g_per_day=gain,
        intake_shift_ml_per_day=intake,
        short_probability_shift=short,
        rough=True,
    )


def _estimate_of(
    likelihood: Likelihood,
    draws: Draws,
    question: Question,
    rng: np.random.Generator,
    *,
    full: bool,
) -> Estimate:
    """The estimate that weighted draws amount to."""
    evidence, p = likelihood.evidence, likelihood.population
    chosen = resample(draws, _ANSWER_DRAWS if full else PREVIEW_DRAWS, rng)
    outlook = look_out(likelihood, draws.z[chosen], question, rng)
    predictors, logs = draws.predictors[chosen], draws.log_likelihood[chosen]
    scattered = scatter(likelihood, draws.modes[0])
    noise = likelihood.noise_g * likelihood.errors.loudness(*scattered)
    shift = _mode_shift(likelihood, draws.modes[0], outlook, question) if full else 0.0
    intervals = _intervals(outlook)
    doubted = suspects(likelihood, predictors, logs, draws.wrong[chosen].mean(axis=0))
    of_late, of_the_last, more = _given_shares(likelihood, intervals["requirement"].median)
    signs = Signs(
        effective_draws=draws.effective if full else None,
        preview_shift_sd=shift,
        scatter_p=_scatter_p(likelihood, *scattered),
        last_weight_off_sd=last_weight_off(likelihood, draws.modes[0]) if full else None,
        given_share=of_late,
        given_last_share=of_the_last,
        given_rise_share=more,
        unmeasured_share=_unmeasured_share(likelihood),
        suspects=doubted,
        weights=likelihood.weights,
        noise_g=noise,
        unfit_tests=unfit_tests(likelihood, logs),
    )
    warned = cautions(evidence, p, signs)
    known = evidence.birth_weight_g is not None or bool(likelihood.weights)
    return Estimate(
        age_d=evidence.now_d,
        breast_intake=intervals["breast"],
        total_intake=intervals["total"],
        milk_given_ml_per_day=outlook.given_ml_d,
        requirement=intervals["requirement"],
        share_of_requirement=intervals["share"],
        present_weight=intervals["weight"],
        gain=intervals["gain"],
        intake_short_probability=fraction(outlook.least_share < 1.0),
        gain_below_limit_probability=fraction(outlook.gain_g_d < question.gain_limit_g_per_day),
        not_regained_probability=fraction(outlook.regain_day_ratio < 1.0) if known else None,
        regain_age_d=intervals["regain"] if np.isfinite(outlook.regained_d).any() else None,
        forecast=forecast(outlook, noise),
        loss_centile=loss_centile(evidence, likelihood.weights, p, noise),
        influences=influences(likelihood, logs, outlook) if full else (),
        suspects=doubted,
        next_weighing=next_weighing(
            outlook, question, noise, p.gain_asked_from_d, may_be_settled=may_be_settled(warned)
        ),
        cautions=warned,
        diagnostics=_diagnostics(likelihood, draws, shift, full=full),
        question=question,
    )


def _diagnostics(
    likelihood: Likelihood, draws: Draws, shift_sd: float, *, full: bool
) -> Diagnostics:
    """How the answer was computed."""
    return Diagnostics(
        kind="full" if full else "preview",
        draws_count=len(draws.z),
        effective_draws=draws.effective,
        modes_count=len(draws.modes),
        iterations_count=draws.modes[0].iterations_count,
        preview_shift_sd=shift_sd,
        weights_log_density=weights_log_density(likelihood, draws.modes[0]),
    )


def _given_shares(likelihood: Likelihood, need_ml_d: float) -> tuple[float, float, float]:
    """Milk given as shares of the requirement: the most in a day of late and of the last days written down, and its rise.

    'Of late' reaches back to the last weight and over the window of the gain; the last days written
    down are that window before the last milk that was; the rise is that of the last day over the day up to
    the last weight.
    """
    evidence, window_d = likelihood.evidence, likelihood.population.gain_window_d
    now_d, need_ml = evidence.now_d, max(need_ml_d, 1.0)
    last_d = likelihood.weights[-1].age_d if likelihood.weights else 0.0
    most_ml = most_given(evidence, min(last_d, now_d - window_d))
    written_d = max((m.age_d for m in evidence.milk_given if m.age_d <= now_d), default=now_d)
    last_ml = most_given(evidence, written_d - window_d)
    rise_ml = given_to(evidence, now_d) - given_to(evidence, last_d)
    return most_ml / need_ml, last_ml / need_ml, rise_ml / need_ml


def _unmeasured_share(likelihood: Likelihood) -> float:
    """Milk given without a volume as a share of all feeds: the most in a day of late, as there."""
    evidence, p = likelihood.evidence, likelihood.population
    last_d = likelihood.weights[-1].age_d if likelihood.weights else 0.0
    since_d = min(last_d, evidence.now_d - p.gain_window_d)
    ends = [at for at in evidence.unmeasured_milk_d if since_d < at <= evidence.now_d]
    most = max(
        (sum(end - 1.0 < at <= end for at in evidence.unmeasured_milk_d) for end in ends), default=0
    )
    return most / p.feeds_per_day


def _intervals(outlook: Outlook) -> dict[str, Interval]:
    """The intervals of all that is given as one number."""
    rows = {
        "breast": (outlook.breast_ml_d, "mL/d"),
        "total": (outlook.total_ml_d, "mL/d"),
        "requirement": (outlook.requirement_ml_d, "mL/d"),
        "share": (outlook.share, "1"),
        "weight": (outlook.weight_g, "g"),
        "gain": (outlook.gain_g_d, "g/d"),
        "regain": (np.minimum(outlook.regained_d, float(outlook.fan_d[-1])), "d"),
    }
    ordered = np.sort(np.stack([draws for draws, _ in rows.values()]), axis=1)
    quantiles_of = pick(ordered, LEVELS)
    return {
        name: interval(quantiles, unit)
        for (name, (_, unit)), quantiles in zip(rows.items(), quantiles_of, strict=True)
    }


def _mode_shift(likelihood: Likelihood, mode: Mode, outlook: Outlook, question: Question) -> float:
    """Distance of the mode's gain from the draws' mean gain, in their SD."""
    at_mode = look_out(likelihood, mode.z[None], question, None)
    spread = max(float(outlook.gain_g_d.std()), 1e-6)
    return abs(float(at_mode.gain_g_d[0]) - float(outlook.gain_g_d.mean())) / spread


def _sd(interval: Interval) -> float:
    """SD of the normal that has the same 80 % interval."""
    return max(interval.high_80 - interval.low_80, 1e-6) / WIDTH_80


def _scatter_p(likelihood: Likelihood, squares: float, freedom: float) -> float | None:
    """Probability of so much scatter of the weights by chance; None for too few weights."""
    if freedom <= _FREEDOM_LEAST:
        return None
    return likelihood.errors.scatter_chance(squares, freedom)
