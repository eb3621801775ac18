"""Invented term infants as families and wards weigh them: rough readings, mixed intervals, other courses.

What the other simulators lack and real records have: weights rounded to 10, 50 or 100 g or to ounces and half
pounds, taken after a feed or in clothes that nobody mentions, digits swapped, half a kilogram or a whole one too
much, the weight of another infant or of the visit before; visits a day early or late, daily and then monthly;
infants who catch up, fall behind, or lose weight for a week while ill. All numbers are invented.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from tools.validate.term_infants import POPULATIONS, simulate
from tools.validate.waning_infants import courses as waning_courses

from suffice.inference.growth.prior import Floats, WeightReference

DAYS = np.arange(0.0, 131.0)
WANDER_DAYS = 10.0
OUNCE_G = 28.3495
OUNCES_IN_HALF_A_POUND = 8
NOISE_G = {
    "ward": 45,
    "quiet": 25,
    "record": 60,
    "ounces": 50,
    "slips": 50,
    "fed": 30,
    "clothed": 40,
}
"""SD of a weight from the third week on, on average; a third less to a third more by infant."""
SLIPS = {"ward": 0.005, "record": 0.01, "ounces": 0.015, "slips": 0.03}
VISITS_D: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "monthly": ((0, 30, 58, 90), (0, 3, 4, 5)),
    "weekly": ((0, *range(7, 92, 7)), (0, *(1,) * 13)),
    "mixed": (
        (0, 1, 2, 3, 4, 5, 10, 14, 21, 30, 60, 90),
        (0, 0.2, 0.2, 0.2, 0.2, 0.2, 1, 1, 2, 3, 4, 5),
    ),
}
"""Planned ages, and by how many days a visit is early or late at the most."""


@dataclass(frozen=True)
class RoughWorld:
    """How infants grow, how they are weighed, and when."""

    course: str
    reading: str
    visits: str

    def __str__(self) -> str:
        return f"{self.course}, {self.reading}, {self.visits}"


WORLDS = tuple(
    RoughWorld(*one)
    for one in (
        ("WHO-like", "ward", "monthly"),
        ("slow start", "record", "monthly"),
        ("catching up", "record", "monthly"),
        ("waning", "record", "monthly"),
        ("WHO-like", "quiet", "weekly"),
        ("slow start", "record", "weekly"),
        ("heavy at birth", "ounces", "weekly"),
        ("catching up", "slips", "weekly"),
        ("ill", "ward", "weekly"),
        ("waning", "ounces", "weekly"),
        ("WHO-like", "fed", "weekly"),
        ("slow start", "clothed", "weekly"),
        ("WHO-like", "record", "mixed"),
        ("catching up", "ounces", "mixed"),
        ("ill", "slips", "mixed"),
        ("waning", "ward", "mixed"),
        ("slow start", "quiet", "mixed"),
    )
)


@dataclass(frozen=True)
class RoughInfants:
    """Boys (n,); planned ages (m,); ages, readings in g and which of them are slips, (n, m)."""

    male: Floats
    planned_d: Floats
    age_d: Floats
    read_g: Floats
    is_slip: np.ndarray


def rough(world: RoughWorld, reference: WeightReference, count: int, seed: int) -> RoughInfants:
    """`count` infants of a world."""
    rng = np.random.default_rng(seed)
    male, true_g = _courses(world.course, reference, count, rng)
    planned, early_or_late = (np.array(one, dtype=float) for one in VISITS_D[world.visits])
    age_d = np.maximum(planned + rng.uniform(-1, 1, (count, len(planned))) * early_or_late, 0.0)
    at_visits = np.array([np.interp(a, DAYS, t) for a, t in zip(age_d, true_g, strict=True)])
    read, is_slip = _readings(world.reading, age_d, at_visits, rng)
    return RoughInfants(male, planned, age_d, read, is_slip)


def _courses(
    kind: str, reference: WeightReference, count: int, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Boys (n,) and true weights of every day, (n, days), g."""
    if kind == "waning":
        male = (np.arange(count) % 2).astype(float)
        return male, waning_courses(male, rng, DAYS)
    like = {"catching up": "WHO-like", "ill": "slow start"}.get(kind, kind)
    made = simulate(
        next(one for one in POPULATIONS if one.name == like),
        reference,
        DAYS,
        count=count,
        seed=int(rng.integers(1 << 30)),
        noise_g=0.0,
        gross_share=0.0,
        wander_days=WANDER_DAYS,
    )
    true_g = made.true_g
    if kind == "catching up":
        true_g = true_g + _drift(reference, made.male, rng)
    if kind == "ill":
        true_g = true_g - sum(_illness(count, rng) for _ in range(2))
    return made.male, true_g


def _drift(reference: WeightReference, male: Floats, rng: np.random.Generator) -> Floats:
    """A third of the infants move to another centile within two to seven weeks."""
    count = len(male)
    _, sd_g = reference.at(male, np.broadcast_to(DAYS, (count, len(DAYS))))
    far_z = (rng.random(count) < 0.35) * rng.normal(0, 0.9, count)
    start_d, length_d = rng.uniform(5, 45, count), rng.uniform(15, 50, count)
    part = np.clip((DAYS - start_d[:, None]) / length_d[:, None], 0, 1)
    found: Floats = sd_g * far_z[:, None] * part
    return found


def _illness(count: int, rng: np.random.Generator) -> Floats:
    """Half of the infants lose up to a third of a kilogram and have it back in one to three weeks."""
    at_d, half_d = rng.uniform(8, 120, count), rng.uniform(4, 12, count)
    deep_g = rng.uniform(60, 350, count) * (rng.random(count) < 0.5)
    found: Floats = deep_g[:, None] * np.clip(
        1 - np.abs(DAYS - at_d[:, None]) / half_d[:, None], 0, 1
    )
    return found


def _readings(
    kind: str, age_d: Floats, true_g: Floats, rng: np.random.Generator
) -> tuple[Floats, np.ndarray]:
    """What was written down, and where it is a slip."""
    shape, later, usual_g = true_g.shape, age_d > 0.5, NOISE_G[kind]
    own = np.exp(rng.normal(0, 0.3, (shape[0], 1)))
    rise = np.interp(age_d, [5, 21], [min(usual_g, 30) / usual_g, 1.0])
    read = true_g + own * usual_g * rise * rng.normal(size=shape)
    is_slip = np.zeros(shape, dtype=bool)
    if kind == "fed":
        read += (rng.random(shape) < 0.5) * rng.uniform(20, 130, shape) * later
    if kind == "clothed":
        read += (rng.random(shape) < 0.2) * rng.normal(170, 80, shape) * later
    if kind in SLIPS:
        wrong = np.maximum(_slips(read, true_g, rng), 900)
        is_slip = (rng.random(shape) < SLIPS[kind]) & later
        read = np.where(is_slip, wrong, read)
        is_slip &= np.abs(wrong - true_g) > 150
    return np.maximum(_rounded(kind, read, rng), 900), is_slip


def _slips(read: Floats, true_g: Floats, rng: np.random.Generator) -> Floats:
    """What each weight would be if it were a slip, of five kinds."""
    how = rng.integers(0, 5, read.shape)
    thousands = np.floor(np.maximum(read, 1000) / 1000) % 10
    hundreds, tens = np.floor(read / 100) % 10, np.floor(read / 10) % 10
    swapped = 1000 * thousands + 100 * tens + 10 * hundreds
    before = np.concatenate([true_g[:, :1], read[:, :-1]], axis=1)
    found: Floats = np.select(
        [how == 0, how == 1, how == 2, how == 3],
        [
            read + rng.choice([-1000, 1000, 500, -500], read.shape),
            swapped,
            true_g[rng.permutation(len(read))],
            before,
        ],
        read + rng.normal(0, 250, read.shape),
    )
    return found


def _rounded(kind: str, read: Floats, rng: np.random.Generator) -> Floats:
    if kind == "ounces":
        step = np.where(rng.random(read.shape) < 0.2, OUNCES_IN_HALF_A_POUND, 1)
        return np.round(OUNCE_G * step * np.round(read / OUNCE_G / step))
    if kind == "record":
        step = rng.choice([10.0, 50.0, 100.0], read.shape, p=[0.45, 0.4, 0.15])
        return step * np.round(read / step)
    return 10 * np.round(read / 10)
