"""The population model beside published aggregates.

The published figures and where they were read stand in the content store's topics of weight loss
and regain; here they are targets of calibration, so agreement is no independent evidence.
"""

from __future__ import annotations

import numpy as np

from suffice.inference.infant.model import LATENTS_COUNT, Birth, Course, time_grid
from suffice.inference.infant.population import Population

INFANTS = 20000
PUBLISHED: dict[str, dict[str, float | None]] = {
    # Flaherman 2015 (medians by way of a report of the paper; shares from the abstract);
    # Paul 2016 for regain; WHO growth standards; Rios-Leyvraz & Yao 2023 for intake.
    "vaginal": {
        "loss at 24 h, %": 4.2, "loss at 48 h, %": 7.1, "loss at 72 h, %": 6.4,
        "lost 10 % or more at 48 h, %": 5.0, "lost 10 % or more at 72 h, %": None,
        "regain, median day": 9.3, "not regained at 14 d, %": 14.0, "not regained at 21 d, %": 5.0,
    },
    "caesarean": {
        "loss at 24 h, %": 4.9, "loss at 48 h, %": 8.0, "loss at 72 h, %": 8.6,
        "lost 10 % or more at 48 h, %": 10.0, "lost 10 % or more at 72 h, %": 25.0,
        "regain, median day": 10.1, "not regained at 14 d, %": 24.0, "not regained at 21 d, %": 8.0,
    },
    "both": {
        "intake at day 7, mL": 510.0, "intake at day 30, mL": 680.0, "intake at day 90, mL": 780.0,
        "boys at 1 month, kg": 4.47, "boys at 2 months, kg": 5.57, "boys at 3 months, kg": 6.38,
        "girls at 1 month, kg": 4.19, "girls at 2 months, kg": 5.13, "girls at 3 months, kg": 5.85,
    },
}  # fmt: skip


def simulated(p: Population) -> dict[str, dict[str, float]]:
    """The same statistics of the model."""
    found: dict[str, dict[str, float]] = {}
    rng = np.random.default_rng(20251)
    for mode, caesarean in (("vaginal", 0.0), ("caesarean", 1.0)):
        ages = time_grid(21.0)
        course = Course(p, Birth(None, 0.5, caesarean), ages, (), LATENTS_COUNT)
        z = rng.standard_normal((INFANTS, LATENTS_COUNT + course.knots_count))
        ratio = course.paths(z).total
        at = lambda day, ratio=ratio, ages=ages: ratio[:, int(np.argmin(np.abs(ages - day)))]  # noqa: E731
        below = ratio < 1.0
        last = ratio.shape[1] - 1 - np.argmax(below[:, ::-1], axis=1)
        found[mode] = {
            **{f"loss at {24 * d} h, %": 100 * (1 - float(np.median(at(d)))) for d in (1, 2, 3)},
            **{
                f"lost 10 % or more at {24 * d} h, %": 100 * float(np.mean(at(d) <= 0.9))
                for d in (2, 3)
            },
            "regain, median day": float(np.median(ages[last])),
            "not regained at 14 d, %": 100 * float(np.mean(at(14) < 1)),
            "not regained at 21 d, %": 100 * float(np.mean(at(20) < 1)),
        }
    ages = np.array([7.0, 30.0, 30.44, 60.88, 90.0, 91.31])
    both: dict[str, float] = {}
    for sex, boy in (("boys", 1.0), ("girls", 0.0)):
        course = Course(p, Birth(None, boy, p.caesarean_fraction), ages, (), LATENTS_COUNT)
        z = rng.standard_normal((INFANTS, LATENTS_COUNT + course.knots_count))
        paths = course.paths(z)
        weight = np.median(paths.total * paths.birth_kg, axis=0)
        both |= {
            f"{sex} at 1 month, kg": float(weight[2]),
            f"{sex} at 2 months, kg": float(weight[3]),
            f"{sex} at 3 months, kg": float(weight[5]),
        }
        if sex == "boys":
            intake = np.median(paths.breast_ml_kg_d * paths.birth_kg, axis=0)
            both |= {
                f"intake at day {d}, mL": float(intake[k]) for d, k in ((7, 0), (30, 1), (90, 4))
            }
    found["both"] = both
    return found
