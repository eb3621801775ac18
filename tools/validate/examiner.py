"""An examiner of its own: simulated infants that the engine has never seen.

Written apart from suffice.inference.infant.model: it steps the energy balance through time (midpoint
rule, 48 steps a day) instead of solving it, draws every feed singly (log-normal), gives every day
a factor of its own, rounds weights to the display of the scale and makes errors of weighing.
Only the parameters are shared.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from suffice.inference.evidence import (
    DiaperCount,
    Evidence,
    MilkGiven,
    TestWeighing,
    WeightReading,
)
from suffice.inference.infant.population import Population

STEPS_PER_DAY = 48


@dataclass(frozen=True)
class Schedule:
    """Which evidence is gathered when; all in days."""

    name: str
    says: str
    weights_d: tuple[float, ...]
    feeds_weighed: int = 0
    whole_day: bool = False
    diaper_days: int = 0

    @property
    def now_d(self) -> float:
        return max(self.weights_d)


SCHEDULES = {
    s.name: s
    for s in (
        Schedule("A", "birth and 2 weights (days 2, 5)", (2, 5)),
        Schedule("B", "birth and 4 weights (days 1, 3, 6, 10)", (1, 3, 6, 10)),
        Schedule("C", "as B and one feed weighed", (1, 3, 6, 10), feeds_weighed=1),
        Schedule("C2", "as B and every feed weighed for 24 h", (1, 3, 6, 10), whole_day=True),
        Schedule("D", "birth and a weight every day to day 10", tuple(range(1, 11))),
        Schedule(
            "E",
            "birth, 6 weights (days 1 to 11), diapers of the last 5 days",
            (1, 2, 4, 6, 8, 11),
            diaper_days=5,
        ),
        Schedule("F", "birth and 5 weights to day 24 (3, 7, 10, 17, 24)", (3, 7, 10, 17, 24)),
        Schedule("G", "birth and 20 weights, every other day to day 40", tuple(range(2, 41, 2))),
    )
}


@dataclass(frozen=True)
class World:
    """What the infants of a scenario really are; the defaults are the population itself."""

    weight_noise_g: float | None = None
    outlier_fraction: float | None = None
    expenditure_factor: float = 1.0
    cost_factor: float = 1.0
    drift_factor: float = 1.0
    supply_shift_log: float = 0.0
    onset_factor: float = 1.0
    supplement_ml_d: float = 0.0
    supplement_from_d: float = 4.0
    supplement_recorded: bool = True
    spoil_index: int | None = None
    spoil_g: float = 0.0
    spoil_clothing: str | None = "naked"
    second_scale_from: int | None = None
    second_scale_bias_g: float = 0.0
    second_scale_recorded: bool = True


PLAIN = World()


@dataclass(frozen=True)
class Infant:
    """One simulated infant: what is known, and the truth."""

    evidence: Evidence
    intake_ml_d: float
    gain_g_d: float
    weight_7_g: float
    weight_now_g: float
    requirement_ml_d: float
    regained_by_14: bool
    course_d: np.ndarray
    course_g: np.ndarray


def _courses(p: Population, world: World, n: int, end_d: float, rng: np.random.Generator):
    """Truths of `n` infants on a fine grid, as arrays (n,) and (n, n_steps + 1)."""
    boy = rng.random(n) < 0.5
    caesarean = rng.random(n) < p.caesarean_fraction
    birth = p.birth_weight_mean_kg * np.exp(p.birth_weight_log_sd * rng.standard_normal(n))
    birth = np.clip(birth, 2.5, 4.5)
    normal = lambda: rng.standard_normal(n)  # noqa: E731
    ability, need, density, cost = normal(), normal(), normal(), normal()
    t50 = np.where(caesarean, p.onset_caesarean_d, p.onset_vaginal_d)
    t50 = world.onset_factor * t50 * np.exp(p.onset_log_sd * normal())
    width = p.onset_width_d * np.exp(p.onset_width_log_sd * normal())
    f0 = np.where(caesarean, p.excess_caesarean, p.excess_vaginal)
    f0 = f0 * np.exp(p.excess_log_sd * normal())
    tau = p.excess_d * np.exp(p.excess_d_log_sd * normal())
    t = np.arange(round(end_d * STEPS_PER_DAY) + 1) / STEPS_PER_DAY
    drift = np.zeros((n, len(t)))
    k_count = int(np.ceil(end_d / p.drift_knot_d)) + 1
    keep = np.exp(-p.drift_knot_d / p.drift_d)
    sd = p.drift_sd * world.drift_factor
    knots = np.empty((n, k_count))
    knots[:, 0] = rng.normal(0, 1, n) * np.sqrt(sd**2 + p.drift_start_sd**2)
    for k in range(1, k_count):
        knots[:, k] = keep * knots[:, k - 1] + sd * np.sqrt(1 - keep**2) * normal()
    for i in range(n):
        drift[i] = np.interp(t, np.arange(k_count) * p.drift_knot_d, knots[i])
    low_tail = (1 - np.exp(-p.supply_tail * ability)) / p.supply_tail
    level = (
        p.energy_log
        + world.supply_shift_log
        + p.supply_birth_weight_slope * np.log(birth / p.birth_weight_reference_kg)
        + p.supply_boy * (boy - 0.5)
        + p.supply_sd * low_tail
        + p.supply_follows_need * p.expenditure_log_sd * need
    )
    eps = world.expenditure_factor * np.exp(p.expenditure_log_sd * need)
    rho = np.exp(p.density_log_sd * density)
    c = world.cost_factor * p.tissue_cost * np.exp(p.tissue_cost_log_sd * cost)
    with np.errstate(over="ignore"):
        onset = 1 / (1 + np.exp(-(t[None] - t50[:, None]) / width[:, None]))
    onset = p.colostrum_fraction + (1 - p.colostrum_fraction) * onset
    mature = 1 - p.maturation_fraction * np.exp(-t / p.maturation_d)
    energy = np.exp(level[:, None] + drift) * onset * mature
    breast = energy / (p.density_later * rho[:, None])
    given = (
        np.where(t >= world.supplement_from_d, world.supplement_ml_d, 0.0)[None] / birth[:, None]
    )
    r = p.density_birth + (p.density_later - p.density_birth) * (1 - np.exp(-t / p.density_d))
    h = p.expenditure_later - (p.expenditure_later - p.expenditure_birth) * np.exp(
        -t / p.expenditure_d
    )
    fluid = f0[:, None] * np.exp(-t / tau[:, None]) + p.content_fraction * (breast + given) / 1000
    supply = breast * r * rho[:, None] + given * p.given_milk_density
    x = np.empty_like(energy)
    x[:, 0] = 1 - fluid[:, 0]
    step = 1 / STEPS_PER_DAY

    def slope(j, value):
        return (supply[:, j] - eps * h[j] * (value + fluid[:, j])) / (1000 * c)

    for j in range(len(t) - 1):  # Heun's rule
        first = slope(j, x[:, j])
        second = slope(j + 1, x[:, j] + step * first)
        x[:, j + 1] = x[:, j] + step * (first + second) / 2
    return locals()


def infants(
    population: Population,
    schedule: Schedule,
    n: int,
    seed: int,
    world: World = PLAIN,
    horizon_d: float = 14.0,
) -> list[Infant]:
    """`n` infants of a schedule with their truths."""
    rng = np.random.default_rng([seed, 7919])
    end = max(schedule.now_d + horizon_d, 15.0)
    v = _courses(population, world, n, end, rng)
    return [_infant(population, schedule, world, v, i, rng) for i in range(n)]


def _infant(p, schedule, world, v, i, rng, requirement_gain_g_d=20.0) -> Infant:
    t, birth = v["t"], float(v["birth"][i])
    weight = 1000 * birth * (v["x"][i] + v["fluid"][i])
    tissue = 1000 * birth * v["x"][i]
    breast_ml = birth * v["breast"][i]
    total_ml = breast_ml + birth * v["given"][i]
    at = lambda series, d: float(np.interp(d, t, series))  # noqa: E731
    now = schedule.now_d
    louder = np.exp(p.noise_log_sd * rng.standard_normal())
    usual = np.hypot(p.noise_physiological_g, p.noise_scale_g)
    noise = world.weight_noise_g or usual * louder
    wrong = p.outlier_fraction if world.outlier_fraction is None else world.outlier_fraction

    scales_named = world.second_scale_from is None or world.second_scale_recorded

    readings = []
    for k, d in enumerate(schedule.weights_d):
        value = at(weight, d) + noise * rng.standard_normal()
        if rng.random() < wrong:
            value += p.outlier_sd_g * rng.standard_normal()
        clothing, scale = "naked", "first" if scales_named else None
        if world.spoil_index is not None and k == world.spoil_index % len(schedule.weights_d):
            value += world.spoil_g
            clothing = world.spoil_clothing
        if world.second_scale_from is not None and k >= world.second_scale_from:
            value += world.second_scale_bias_g
            scale = "second" if scales_named else None
        value = p.noise_resolution_g * round(value / p.noise_resolution_g)
        readings.append(
            WeightReading(id=f"w{k}", age_d=d, weight_g=value, clothing=clothing, scale=scale)
        )
    days = np.exp(p.day_log_sd * rng.standard_normal(int(now) + 2))
    feeds = int(
        np.clip(
            round(p.feeds_per_day * np.exp(p.feeds_per_day_log_sd * rng.standard_normal())), 6, 18
        )
    )
    tests = []
    if schedule.feeds_weighed or schedule.whole_day:
        day = at(breast_ml, now - 0.5) * days[-1]
        sizes = np.exp(p.feed_log_sd * rng.standard_normal(feeds))
        if schedule.whole_day:
            sizes = day * sizes / sizes.sum()
            shown = (
                1 - p.evaporation_fraction
            ) * sizes + p.test_weighing_sd_g * rng.standard_normal(feeds)
            tests.append(
                TestWeighing(
                    id="t0",
                    age_d=now,
                    transfer_g=float(shown.sum()),
                    feeds_count=feeds,
                    whole_day=True,
                )
            )
        else:
            sizes = at(breast_ml, now) * days[-1] / feeds * sizes / np.exp(p.feed_log_sd**2 / 2)
            for j in range(schedule.feeds_weighed):
                shown = (1 - p.evaporation_fraction) * sizes[
                    j
                ] + p.test_weighing_sd_g * rng.standard_normal()
                tests.append(TestWeighing(id=f"t{j}", age_d=now, transfer_g=float(round(shown))))
    counts = []
    habits = np.exp(p.diaper_habit_log_sd * rng.standard_normal(2))
    for j in range(schedule.diaper_days):
        d = now - j
        per_kg = at(total_ml, d - 0.5) / birth
        for kind, a, b, habit in (
            ("wet", p.wet_intercept, p.wet_slope, habits[0]),
            ("stool", p.stool_intercept, p.stool_slope, habits[1]),
        ):
            mean = habit * (a + b * per_kg)
            shape = 1 / p.diaper_dispersion
            counts.append(
                DiaperCount(
                    id=f"{kind}{j}",
                    kind=kind,
                    age_d=d,
                    count=int(rng.poisson(rng.gamma(shape, mean / shape))),
                )
            )
    given = ()
    if world.supplement_ml_d and world.supplement_recorded:
        times = np.arange(world.supplement_from_d + 0.0625, now, 0.125)
        given = tuple(
            MilkGiven(id=f"g{j}", age_d=float(d), volume_ml=world.supplement_ml_d / 8)
            for j, d in enumerate(times)
        )
    evidence = Evidence(
        now_d=float(now),
        birth_weight_g=float(
            5 * round((1000 * birth + p.noise_birth_weight_g * rng.standard_normal()) / 5)
        ),
        sex="male" if v["boy"][i] else "female",
        gestation_days=280,
        mode="caesarean" if v["caesarean"][i] else "vaginal",
        multiple_count=1,
        feeds_per_day=float(feeds) if tests else None,
        weights=tuple(readings),
        test_weighings=tuple(tests),
        diapers=tuple(counts),
        milk_given=given,
        birth_scale="first" if scales_named else None,
    )
    window = min(3.0, now)
    h = at(v["h"], now - 0.5)
    need = v["eps"][i] * h * at(weight, now - 0.5) / 1000 + v["c"][i] * requirement_gain_g_d
    energy_ml = at(v["r"], now - 0.5) * v["rho"][i]
    return Infant(
        evidence=evidence,
        intake_ml_d=at(breast_ml, now - 0.5),
        gain_g_d=(at(tissue, now) - at(tissue, now - window)) / window,
        weight_7_g=at(weight, now + 7),
        weight_now_g=at(weight, now),
        requirement_ml_d=float(need / energy_ml),
        regained_by_14=bool(at(weight, 14.0) >= 1000 * birth),
        course_d=t,
        course_g=weight,
    )
