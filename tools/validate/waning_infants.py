"""Simulated term infants who grow by another law than the engine's: a gain that wanes, by infant.

No WHO table and no Gaussian process: an infant loses a share of its birth weight to a day of its own,
then gains at a rate that fades exponentially, each with its own rate and its own time of fading, and
swings slowly about that. Its own weights scatter more or less than others', and some are slips: half
a kilogram or a whole one too high or too low, or any size. The numbers are invented and near what term
infants do (birth weight 3.4 kg, 36 to 44 g a day in the third week), so that forecasts meet a cohort
whose mean, spread and noise nobody fitted them to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from suffice.inference.growth.prior import Floats

AGES_D = np.array(sorted({0.0, 2.0, 4.0, *np.arange(7.0, 92.0, 7.0)}))
SLIPS_SHARE = 0.03
WHOLE_SLIPS = 0.3
"""Of the slips: half a kilogram or one; the others are of any size (SD 250 g)."""


@dataclass(frozen=True)
class WaningInfants:
    """Boys (n,), and readings (n, m) in g at `AGES_D`."""

    male: Floats
    read_g: Floats


def waning(count: int, noise_g: float, seed: int) -> WaningInfants:
    """`count` infants; noise of 35 g to day 5, `noise_g` from day 21, on average."""
    rng = np.random.default_rng(seed)
    male = (np.arange(count) % 2).astype(float)
    true = courses(male, rng, AGES_D)
    own = np.exp(rng.normal(0.0, 0.25, (count, 1)))
    usual_g = np.interp(AGES_D, [5.0, 21.0], [35.0, noise_g])
    read = true + own * usual_g * rng.normal(size=true.shape)
    kind = rng.random(read.shape)
    whole = rng.choice([-500.0, 500.0, 1000.0, -1000.0], read.shape)
    any_size = 250.0 * rng.normal(size=read.shape)
    read += np.where(kind < SLIPS_SHARE, any_size, 0.0)
    is_whole = kind < WHOLE_SLIPS * SLIPS_SHARE
    read += np.where(is_whole, whole - any_size, 0.0)
    return WaningInfants(male=male, read_g=np.maximum(10 * np.round(read / 10), 800.0))


def courses(male: Floats, rng: np.random.Generator, age_d: Floats) -> Floats:
    """True weights, g, (n, m), at the ages (m,)."""
    count = len(male)

    def column(values: Floats) -> Floats:
        return values[:, None]

    birth = column(np.clip(rng.normal(3350 + 110 * male, 440), 2500, 4800))
    depth = column(np.clip(rng.normal(0.065, 0.022, count), 0.005, 0.13))
    bottom_d = column(rng.uniform(2.0, 4.0, count))
    start_g_d = column(rng.normal(40 + 3 * male, 8.5))
    fade_d = column(np.exp(rng.normal(np.log(75.0), 0.3, count)))
    swing_g = column(np.abs(rng.normal(0, 70, count)))
    phase, period_d = column(rng.uniform(0, 2 * np.pi, count)), column(rng.uniform(25, 60, count))
    lost = birth * depth * np.minimum(age_d / bottom_d, 1.0)
    since_d = np.maximum(age_d - bottom_d, 0.0)
    gained = start_g_d * fade_d * (1 - np.exp(-since_d / fade_d))
    swing = swing_g * (np.sin(2 * np.pi * age_d / period_d + phase) - np.sin(phase))
    return birth - lost + gained + swing * np.minimum(age_d / 14, 1.0)
