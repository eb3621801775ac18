"""A change of milk given that no weight has seen yet: what the breast may make good of it.

Milk given that stayed the same since before the last weight shows in that weight. Where it began,
rose, fell or was no longer written down after it, the breast (or milk that nobody wrote down) makes
good anything from none to all of the change, each as likely: all of it is the course as if the milk
had gone on as in the days before that weight. No source says how much; the range says so.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from suffice.inference.evidence import Evidence, MilkGiven
from suffice.inference.infant.model import Course, Floats, Paths, Supposed, Unfed, clocks
from suffice.inference.infant.population import Population

LATELY_D: Final = 2.0
"""Days up to now, or to a weight, of which it is said how much milk is given lately."""
_PIECE_D: Final = 0.5
"""Milk that is supposed is laid out by half days; the model spreads each volume over a day."""
_NOTHING_KCAL: Final = 1e-6
"""What is left by rounding where nothing changed."""
_WIDTH_OF_EVEN: Final = float(np.sqrt(12.0))
"""Width of an even distribution, in its SDs."""


def seen_until(evidence: Evidence) -> float:
    """Age, days, up to which the breast's own part was seen: the last weight, or a whole day of test weights."""
    ends = [one.age_d for one in evidence.weights]
    ends += [one.age_d for one in evidence.test_weighings if one.whole_day]
    return max((age for age in ends if age <= evidence.now_d), default=0.0)


def _given(evidence: Evidence, kcal_per_ml: float) -> Floats:
    """Milk given up to now, in an order that entry cannot change: rows of age in days, mL, kcal."""
    rows = sorted(
        (
            m.age_d,
            m.volume_ml,
            m.volume_ml * (kcal_per_ml if m.kcal_per_ml is None else m.kcal_per_ml),
        )
        for m in evidence.milk_given
        if m.age_d <= evidence.now_d
    )
    return np.array(rows, dtype=np.float64).reshape(-1, 3).T


def rate_before(evidence: Evidence, seen_d: float, kcal_per_ml: float) -> tuple[float, float]:
    """Milk given a day in the days up to an age: mL and kcal per day."""
    return _rate_before(_given(evidence, kcal_per_ml), seen_d)


def _rate_before(milk: Floats, seen_d: float) -> tuple[float, float]:
    age_d, ml, kcal = milk
    is_lately = (age_d > seen_d - LATELY_D) & (age_d <= seen_d)
    span_d = min(LATELY_D, max(seen_d, 1.0))
    return float(ml[is_lately].sum()) / span_d, float(kcal[is_lately].sum()) / span_d


def changed_kcal(
    evidence: Evidence,
    at_d: Floats,
    seen_d: float,
    supposed_kcal_d: float,
    kcal_per_ml: float,
) -> Floats:
    """Energy of the milk given since an age, beyond what the days before it gave, kcal.

    Args:
        evidence: The infant's.
        at_d: By which ages, days; before `seen_d` it is 0.
        seen_d: The age since which.
        supposed_kcal_d: What is given a day from now on.
        kcal_per_ml: Energy of milk where it is not said.
    """
    now, milk = evidence.now_d, _given(evidence, kcal_per_ml)
    age_d, _, kcal = milk
    _, before = _rate_before(milk, seen_d)
    until = np.clip(at_d, seen_d, max(now, seen_d))
    sums = np.concatenate([[0.0], np.cumsum(np.where(age_d > seen_d, kcal, 0.0))])
    since = sums[np.searchsorted(age_d, until, side="right")]
    later = np.maximum(at_d - now, 0.0)
    found: Floats = since - before * (until - seen_d) + (supposed_kcal_d - before) * later
    return found


def _as_before(course: Course, evidence: Evidence, seen_d: float) -> Supposed:
    """The milk if it had gone on, and went on, as in the days before an age."""
    now = evidence.now_d
    ml, kcal = rate_before(evidence, seen_d, course.population.given_milk_density)
    milk = [one for one in course.milk if one.age_d <= seen_d]
    if ml > 0.0:
        starts = np.arange(seen_d, now, _PIECE_D)
        ends = np.append(starts[1:], now)[: len(starts)]
        milk += [
            MilkGiven(
                id="as before",
                age_d=float(start + end) / 2,
                volume_ml=ml * float(end - start),
                kcal_per_ml=kcal / ml,
            )
            for start, end in zip(starts, ends, strict=True)
        ]
    return tuple(milk), (now, ml, kcal)


def displaced(
    evidence: Evidence, course: Course, unfed: Unfed, rng: np.random.Generator | None
) -> Paths:
    """The paths when the breast makes good of a change of milk given what falls to each draw.

    Args:
        evidence: The infant's.
        course: The course asked for, with the milk that is supposed from now on.
        unfed: What the latents make of it; where nothing changed its paths are those of the milk given.
        rng: Shuffles the shares among the draws; without it every draw has the middle one.
    """
    p, at, seen_d = course.population, course.at_d, seen_until(evidence)
    supposed = course.given_after[2] if course.given_after else 0.0
    paths = course.fed(unfed)
    # What is left by now, and of the day around each age, in one look at the milk.
    ages = np.concatenate([at, [evidence.now_d], at + 0.5, at - 0.5])
    changed = changed_kcal(evidence, ages, seen_d, supposed, p.given_milk_density)
    if np.abs(changed[: len(at) + 1]).max() < _NOTHING_KCAL:
        return paths
    share = _shares(len(unfed.born), p, rng)[:, None]
    before = course.fed(unfed, _as_before(course, evidence, seen_d))
    later, sooner = changed[len(at) + 1 :].reshape(2, -1)
    density = p.density_later * clocks(at, p)[1] * paths.density
    less_ml_kg = share * (later - sooner) / (density * paths.birth_kg)
    return replace(
        paths,
        total=paths.total + share * (before.total - paths.total),
        tissue=paths.tissue + share * (before.tissue - paths.tissue),
        breast_ml_kg_d=np.maximum(paths.breast_ml_kg_d - less_ml_kg, 0.0),
    )


def _shares(count: int, p: Population, rng: np.random.Generator | None) -> Floats:
    """The part that is made good, (n_draws,): evenly spread, in no order."""
    middle = np.full(count, p.displaced_fraction)
    if rng is None:
        return middle
    even = (rng.permutation(count) + 0.5) / count - 0.5
    found: Floats = np.clip(middle + _WIDTH_OF_EVEN * p.displaced_sd_fraction * even, 0.0, 1.0)
    return found
