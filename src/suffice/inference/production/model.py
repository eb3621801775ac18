"""One breast that fills, is expressed from and fed from: many courses of it, weighted by what was expressed.

A breast fills the slower the fuller it is: dV/dt = R (1 - (V / S)^p). A session takes a share of what is
there, and its volume is known; a feed takes a share that nobody measured. Courses are drawn forward from
event to event (a particle filter). Where few of them carry the weight they are drawn anew, with the values
of the breast moved a little about their mean so that their spread stays (Liu and West 2001).

Randomness enters as a seed: the same events give the same bits.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import ClassVar, Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, gammaln, logit

from suffice.clinical.parameters import Parameters
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant

Floats = NDArray[np.float64]
DRAWS: Final = 8192
"""Courses; with twice as many the answer moves by less than 2 %."""
KEPT: Final = 0.99
"""How far a value stays where it was when courses are drawn anew; the rest goes to the mean, and its spread back."""
FEWEST_ML: Final = 0.5
"""A volume that was read as less counts as this: a share of nothing has no chance."""
FULLEST: Final = 0.9999
"""Of the storage: a breast comes near to it and never reaches it."""
TABLE_END: Final = 14.0
"""Last point of the table, as -log of what is still empty: fuller than `FULLEST`."""
TABLE_POINTS: Final = 8192
"""Points of the table; linear between them it is right to 1 in 1000."""
HALF: Final = 0.5
"""Chance that a feed was at this breast where nobody wrote down at which."""
START_LOG_ODDS: Final = 0.3
"""Log odds of how full the breast is before the first session, and its SD: more or less anything."""
START_LOG_ODDS_SD: Final = 1.0
WIDER: Final = 2.0
"""How much wider rates are drawn than they are likely, with weights that make up for it: else no course is left
where a breast makes very little, and those of a larger rate pass for an answer."""


class FedParameters(Parameters, frozen=True, kw_only=True):
    """How a breast fills and what is taken from it, before anything of it is known."""

    topic: ClassVar[str] = "production_fed"
    keys: ClassVar[Mapping[str, str]] = {"density_g_per_ml": "milk.human_density_g_per_ml"}

    rate_ml_per_day: Constant
    rate_log_sd_ratio: Constant
    storage_ml: Constant
    storage_log_sd_ratio: Constant
    filling_power_ratio: Constant
    session_share_fraction: Constant
    session_share_count: Constant
    session_alike_count: Constant
    feed_share_fraction: Constant
    feed_alike_count: Constant
    feed_log_odds_sd_ratio: Constant
    weighed_sd_ml: Constant
    density_g_per_ml: Constant
    widest_ratio: Constant


class Event(NamedTuple):
    """What happened at one breast.

    Attributes:
        at_h: Hours from the first event.
        kind: An expression session, a feed, one that may have been at the other breast, or a weighed one.
        ml: What came, mL; NaN where nobody measured it.
    """

    at_h: float
    kind: Literal["session", "feed", "maybe", "weighed"]
    ml: float = math.nan


class Courses(NamedTuple):
    """The courses after the last event.

    Attributes:
        made_ml: What each made after the first event.
        weight: Their weights; they add up to 1.
        alike: How many of equal weight they are worth, at the worst moment.
    """

    made_ml: Floats
    weight: Floats
    alike: float


def courses(
    events: Sequence[Event],
    parameters: FedParameters,
    reading_sd_ml: float,
    *,
    seed: int,
    draws: int = DRAWS,
) -> Courses | None:
    """Courses of a breast through its events; None where no course fits them.

    Args:
        events: In order of time; the first is a session.
        parameters: What is thought likely beforehand.
        reading_sd_ml: SD of one expressed volume as it was read.
        seed: Of the draws.
        draws: How many.
    """
    rng = np.random.default_rng(seed)
    breast, log_weight = _breasts(parameters, rng, draws)
    filled_ml = expit(rng.normal(START_LOG_ODDS, START_LOG_ODDS_SD, draws)) * np.exp(breast[1])
    made = np.zeros(draws)
    fewest = float(draws)
    now_h = events[0].at_h
    for event in events:
        before = filled_ml
        filled_ml = _filled(before, breast, event.at_h - now_h, parameters)
        made = made + filled_ml - before
        now_h = event.at_h
        log_weight, filled_ml = _taken(
            event, log_weight, filled_ml, breast, parameters, reading_sd_ml, rng
        )
        top = float(log_weight.max())
        if not math.isfinite(top):
            return None
        weight = np.exp(log_weight - top)
        weight /= weight.sum()
        alike = float(1 / np.square(weight).sum())
        fewest = min(fewest, alike)
        log_weight = np.log(np.maximum(weight, np.finfo(float).tiny))
        if alike < draws / 2:
            kept = _drawn_anew(weight, rng)
            breast = _moved(breast, weight, kept, rng)
            filled_ml = np.minimum(filled_ml[kept], FULLEST * np.exp(breast[1]))
            made, log_weight = made[kept], np.full(draws, -math.log(draws))
    weight = np.exp(log_weight)
    return Courses(made, weight / weight.sum(), fewest)


def _breasts(
    parameters: FedParameters, rng: np.random.Generator, draws: int
) -> tuple[Floats, Floats]:
    """Values of breasts by row: log rate, log storage, log odds of the two shares; and their log weights."""
    share, strength = parameters.session_share_fraction.value, parameters.session_share_count.value
    drawn = np.clip(rng.beta(share * strength, (1 - share) * strength, draws), 1 - FULLEST, FULLEST)
    off = WIDER * rng.standard_normal(draws)
    log_weight = 0.5 * np.square(off) * (WIDER**-2 - 1)
    breast = np.stack(
        [
            math.log(parameters.rate_ml_per_day.value) + parameters.rate_log_sd_ratio.value * off,
            rng.normal(
                math.log(parameters.storage_ml.value), parameters.storage_log_sd_ratio.value, draws
            ),
            logit(drawn),
            rng.normal(
                logit(parameters.feed_share_fraction.value),
                parameters.feed_log_odds_sd_ratio.value,
                draws,
            ),
        ]
    )
    return breast, log_weight - math.log(float(np.exp(log_weight).sum()))


def _filled(filled_ml: Floats, breast: Floats, hours: float, parameters: FedParameters) -> Floats:
    """What is there some hours later."""
    if hours <= 0:
        return filled_ml
    full, time = _filling(parameters.filling_power_ratio.value)
    storage = np.exp(breast[1])
    start = np.interp(np.minimum(filled_ml / storage, FULLEST), full, time)
    later = np.interp(start + np.exp(breast[0]) * hours / HOURS_PER_DAY / storage, time, full)
    return np.asarray(np.maximum(later * storage, filled_ml))


@lru_cache(maxsize=8)
def _filling(power: float) -> tuple[Floats, Floats]:
    """How full a breast is, and the time in which it gets there from empty at its own rate: t(v) = int du / (1 - u^p)."""
    steps = np.linspace(0.0, TABLE_END, TABLE_POINTS)
    full = -np.expm1(-steps)
    # With v = 1 - exp(-s) the integrand is smooth up to a full breast, where it is 1 / p.
    slope = np.exp(-steps) / -np.expm1(power * np.log1p(-np.exp(-np.maximum(steps, 1e-12))))
    slope[0] = 1.0
    time = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2 * np.diff(steps))])
    return full, time


def _taken(
    event: Event,
    log_weight: Floats,
    filled_ml: Floats,
    breast: Floats,
    parameters: FedParameters,
    reading_sd_ml: float,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """Weights and what is left after an event."""
    draws = filled_ml.size
    is_session = event.kind == "session"
    share = expit(breast[2 if is_session else 3])
    count = (parameters.session_alike_count if is_session else parameters.feed_alike_count).value
    if event.kind in {"feed", "maybe"}:
        taken = rng.beta(share * count, (1 - share) * count)
        if event.kind == "maybe":
            taken = np.where(rng.random(draws) < HALF, taken, 0.0)
        return log_weight, filled_ml * (1 - taken)
    sd = reading_sd_ml if is_session else parameters.weighed_sd_ml.value
    ml = np.maximum(event.ml + sd * rng.standard_normal(draws), FEWEST_ML)
    of = ml / np.maximum(filled_ml, FEWEST_ML / 2)
    fits = of < 1
    of = np.where(fits, of, 0.5)
    a, b = share * count, (1 - share) * count
    chance = (a - 1) * np.log(of) + (b - 1) * np.log1p(-of)
    chance += gammaln(count) - gammaln(a) - gammaln(b) - np.log(filled_ml + FEWEST_ML / 2)
    return np.where(fits, log_weight + chance, -np.inf), np.maximum(filled_ml - ml, 0.0)


def _drawn_anew(weight: Floats, rng: np.random.Generator) -> NDArray[np.intp]:
    """Which courses go on, as often as they weigh: one draw, evenly spaced."""
    places = (np.arange(weight.size) + rng.random()) / weight.size
    return np.minimum(np.searchsorted(np.cumsum(weight), places), weight.size - 1)


def _moved(
    breast: Floats, weight: Floats, kept: NDArray[np.intp], rng: np.random.Generator
) -> Floats:
    """The values that go on, each moved a little so that mean and spread of all stay as they were."""
    mean = breast @ weight
    apart = breast - mean[:, None]
    spread = (apart * weight) @ apart.T + 1e-12 * np.eye(len(breast))
    more = np.linalg.cholesky(spread) @ rng.standard_normal(breast.shape)
    return np.asarray(mean[:, None] + KEPT * apart[:, kept] + math.sqrt(1 - KEPT**2) * more)
