"""Simulated families that come off a supplement, by two simulators: nothing in either is a real family.

The first is the one on which the rule was formed: supply follows hunger, 8 mL a day make a gram a day,
each weight wavers by 35 g. The second differs in what the rule supposes: supply follows slower and falls
sooner, 10 mL make a gram, infants differ in what they gain on the same milk, a bottle takes some of the
hunger for the breast, a day is not like the next, and a weight wavers by 45 g with one in twelve far off.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from suffice.plan.parameters import PlanParameters
from suffice.plan.step import Changed, Course, Weighed, next_step

DAYS = 56
BEFORE_D = (-9.0, -6.0, -3.0, 0.0)
"""When it was weighed before the supplement began: at day 0 the last time."""


class World(NamedTuple):
    """What a simulator supposes."""

    rises_d: float
    falls_d: float
    ml_per_g: float
    infant_sd_g: float
    day_sd_ml: float
    displaced: float
    noise_g: float
    far_off: float


FIRST = World(7, 12, 8, 0, 0, 0, 35, 0)
SECOND = World(10, 9, 10, 3, 40, 0.25, 45, 1 / 12)
WORLDS: dict[Literal["first", "second"], World] = {"first": FIRST, "second": SECOND}


class Rule(NamedTuple):
    """How a family is stepped."""

    parameters: PlanParameters
    floor_g_per_day: float
    every_d: int = 3
    usual_g_per_day: float = 30.0
    knows_begin: bool = True
    is_weighed_before: bool = True


class Ran(NamedTuple):
    """What became of one family: the day of the last supplement (inf: none), and the gain of each day."""

    off_d: float
    gains: np.ndarray


def stepped(rng: np.random.Generator, world: World, rule: Rule, *, can_recover: bool) -> Ran:
    """One family over 56 days of steps."""
    usual = rule.usual_g_per_day
    need = 560 + 50 * rng.normal()
    able = need * (rng.uniform(1.02, 1.5) if can_recover else rng.uniform(0.45, 0.92))
    made = min(0.5 * need, able)
    own = world.infant_sd_g * rng.normal()
    given = 5.0 * round((1.02 * need - made) / 5)
    slow = usual + own - given / world.ml_per_g
    weight, since, off = 3300.0, 0, float("inf")
    before = BEFORE_D if rule.is_weighed_before else BEFORE_D[-1:]
    weights = [Weighed(at, weight + slow * at + _noise(rng, world)) for at in before]
    changes = [Changed(0.0, given)] if rule.knows_begin and rule.is_weighed_before else []
    gains = np.zeros(DAYS)
    for day in range(1, DAYS + 1):
        hunger = max(1.08 * need - given * (1 + world.displaced), 0)
        wanted = min(able, hunger)
        made += (wanted - made) / (world.rises_d if wanted > made else world.falls_d)
        taken = min(made, hunger) + world.day_sd_ml * rng.normal()
        gains[day - 1] = usual + own + (taken + given - need) / world.ml_per_g
        weight += gains[day - 1]
        if day % rule.every_d or not given:
            continue
        weights.append(Weighed(float(day), weight + _noise(rng, world)))
        to = _next(weights, changes, given, day - since, rule)
        if to != given:
            changes.append(Changed(float(day), to - given))
            since, given = day, to
            off = float(day) if to == 0 else off
    return Ran(off, gains)


def _next(
    weights: list[Weighed], changes: list[Changed], given: float, since_d: float, rule: Rule
) -> float:
    lowest = min(range(len(weights)), key=lambda place: weights[place].weight_g)
    course = Course(
        weights=tuple(weights[lowest:]),
        changes=tuple(changes),
        given_ml_per_day=given,
        floor_g_per_day=rule.floor_g_per_day,
        since_d=float(since_d),
        is_weighed_since=True,
        few_diapers=False,
        usual_g_per_day=rule.usual_g_per_day,
    )
    return next_step(course, rule.parameters).to_ml_per_day


def _noise(rng: np.random.Generator, world: World) -> float:
    far = 3.0 if rng.uniform() < world.far_off else 1.0
    return world.noise_g * far * float(rng.normal())


class Row(NamedTuple):
    """Figures of many families."""

    median_d: float
    off_by_28: float
    low_days_recover: float
    low_days_partial: float
    off_partial: float


def row(count: int, world: World, rule: Rule, *, seed: int = 3, low_fraction: float = 0.5) -> Row:
    """Families who can recover and as many who cannot; a day is low below half of the usual gain."""
    rng = np.random.default_rng(seed)
    low = low_fraction * rule.usual_g_per_day
    recover = [stepped(rng, world, rule, can_recover=True) for _ in range(count)]
    partial = [stepped(rng, world, rule, can_recover=False) for _ in range(count)]
    # The first three days are those of the supplement that was just begun, whatever the rule.
    of_low = [[float((one.gains[3:42] < low).sum()) for one in each] for each in (recover, partial)]
    return Row(
        median_d=float(np.median([one.off_d for one in recover])),
        off_by_28=float(np.mean([one.off_d <= 28 for one in recover])),
        low_days_recover=float(np.mean(of_low[0])),
        low_days_partial=float(np.mean(of_low[1])),
        off_partial=float(np.mean([one.off_d < np.inf for one in partial])),
    )
