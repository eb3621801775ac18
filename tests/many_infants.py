"""Infants of a cohort in tests: as many arrays, and one by one."""

from __future__ import annotations

import msgspec
import numpy as np

from engine_setting import POPULATION, QUESTION
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.many.preview import ManyAsked, ManyEvidence
from suffice.inference.many.weights import CLOTHING, Weighings


def drawn(count, seed=1, most=9, until_d=45.0):
    """Invented infants: usual and odd courses, slips, sittings, facts that are not known."""
    rng = np.random.default_rng(seed)
    return [_one(rng, most, until_d) for _ in range(count)]


def _one(rng, most, until_d):
    birth_g = rng.normal(3300, 450)
    ages = np.sort(rng.uniform(0.2, rng.uniform(2, until_d), rng.integers(1, most + 1)))
    if len(ages) > 2 and rng.random() < 0.3:
        ages[1] = ages[0] + 0.02  # the same sitting
    rate = rng.normal(28, 14)
    grams = birth_g * (1 - 0.07 * np.exp(-(((ages - 3) / 3) ** 2))) + rate * np.maximum(ages - 4, 0)
    grams = grams + rng.normal(0, 35, len(ages)) + 300 * (rng.random(len(ages)) < 0.05)
    return Evidence(
        now_d=float(ages[-1] + rng.choice([0.0, 0.0, 0.3, 6.0])),
        birth_weight_g=None if rng.random() < 0.1 else round(birth_g),
        sex=[None, "male", "female"][rng.integers(3)],
        gestation_days=[None, 245, 280][rng.integers(3)],
        mode=[None, "vaginal", "caesarean"][rng.integers(3)],
        weights=tuple(
            WeightReading(
                id=str(k), age_d=float(age), weight_g=float(round(one)), clothing=CLOTHING[worn]
            )
            for k, (age, one, worn) in enumerate(
                zip(ages, grams, rng.integers(0, 4, len(ages)), strict=True)
            )
        ),
    )


def gathered(infants):
    """The same infants as arrays."""
    most = max(len(one.weights) for one in infants)
    ages, grams = np.full((2, len(infants), most), np.nan)
    worn = np.zeros((len(infants), most), dtype=np.intp)
    for i, one in enumerate(infants):
        for k, reading in enumerate(one.weights):
            ages[i, k], grams[i, k] = reading.age_d, reading.weight_g
            worn[i, k] = CLOTHING.index(reading.clothing)
    return ManyEvidence(
        now_d=np.array([one.now_d for one in infants]),
        birth_weight_g=np.array([one.birth_weight_g or np.nan for one in infants]),
        boy=np.array([{"male": 1.0, "female": 0.0, None: 0.5}[one.sex] for one in infants]),
        caesarean=np.array(
            [np.nan if one.mode is None else float(one.mode == "caesarean") for one in infants]
        ),
        weighings=Weighings(age_d=ages, weight_g=grams, clothing=worn),
    )


def asked(count, seed=2):
    """Lines of gain, another for each, as arrays and as questions."""
    rng = np.random.default_rng(seed)
    limit, required = rng.uniform(10, 25, count), rng.uniform(25, 45, count)
    questions = [
        msgspec.structs.replace(
            QUESTION, gain_limit_g_per_day=float(a), requirement_gain_g_per_day=float(b)
        )
        for a, b in zip(limit, required, strict=True)
    ]
    many = ManyAsked(gain_limit_g_per_day=limit, requirement_gain_g_per_day=required)
    return many, questions


__all__ = ["POPULATION", "QUESTION", "asked", "drawn", "gathered"]
