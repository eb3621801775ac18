"""Derives `forecast.small_slope_z`, how much less small infants catch up, from weights.

    python -m tools.fit_small_slope --weights FILE.csv

The term is linear in its numbers, so they are fitted as the shift of a site is: by the likelihood of
each infant's weights given its first one (infants were chosen by size at birth, and a choice must
not look like growth), with the site's shift of each left as unknown as it is in a forecast without
data of the site, and with a normal prior about zero. That prior is shaped as the site's slope on
size at birth; how wide it is, a factor, is chosen among `FACTORS` by folds over the infants: the
least mean CRPS of every later weight from every weight. Nothing is left to choose by hand, so that a
validation can repeat the whole of it without the infants that it scores.

What folds within one study cannot tell is how the next study differs from it.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

import numpy as np

from suffice.inference.growth.forecast import (
    error_variance,
    forecast,
    invert,
    mean_of,
    shared_covariance,
    weigh_down,
)
from suffice.inference.growth.prior import (
    Floats,
    GrowthPrior,
    Weighed,
    WeightReference,
    default_shift,
    lay_out,
    walk_covariance,
)
from suffice.knowledge.growth_forecast import default_growth
from tools.validate.study import DEFAULT_WEIGHTS, read_study
from tools.validate.weight_forecasts import Spread

FACTORS = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
"""Width of the prior, in SDs of a site's slope on size at birth; 0 leaves the term out."""
FOLDS = 5
SEED = 0
GROSS_ROUNDS = 4
"""Which weights are gross errors hangs a little on the numbers fitted, so both take turns."""


def fitted(prior: GrowthPrior, reference: WeightReference, weighed: Weighed) -> GrowthPrior:
    """The prior with the numbers that these infants tell, the width of their prior chosen too."""
    losses = losses_by_factor(prior, reference, weighed)
    return with_slope(prior, fit(prior, reference, weighed, FACTORS[int(losses.argmin())]))


def losses_by_factor(prior: GrowthPrior, reference: WeightReference, weighed: Weighed) -> Floats:
    """Mean loss (f,) of infants left out by each of `FACTORS`."""
    fold = np.random.default_rng(SEED).permutation(weighed.count) % FOLDS
    losses = np.zeros((len(FACTORS), FOLDS))
    for i, factor in enumerate(FACTORS):
        for k in range(FOLDS):
            numbers = fit(prior, reference, weighed.rows(fold != k), factor)
            left_out = weighed.rows(fold == k)
            losses[i, k] = loss(with_slope(prior, numbers), reference, left_out)
    return losses.mean(axis=1)


def with_slope(prior: GrowthPrior, small_slope_z: Floats) -> GrowthPrior:
    return replace(prior, small_slope_z=small_slope_z)


def loss(prior: GrowthPrior, reference: WeightReference, weighed: Weighed) -> float:
    """Mean CRPS, in growth z, of each later weight from each weight and those before it.

    Columns of `weighed` are visits; every pair of visits counts alike.
    """
    found = []
    for last in range(weighed.age_d.shape[1] - 1):
        here = weighed.rows(np.isfinite(weighed.age_d[:, last]))
        truth, at = here.weight_g[:, last + 1 :], here.age_d[:, last + 1 :]
        fan = forecast(
            prior, reference, here.until(here.age_d[:, last]), np.nan_to_num(at, nan=0.0)
        )
        told = Spread(
            mean_g=fan.mean_g,
            sd_g=fan.read_sd_g,
            gross_share=np.full_like(fan.mean_g, fan.gross_share),
            gross_sd_g=fan.gross_sd_g,
            quantiles_g=np.empty(0),
        )
        unit_g = reference.at(here.male_share, np.nan_to_num(at, nan=0.0))[1]
        found.extend(np.nanmean(told.crps_g(truth) / unit_g, axis=0))
    return float(np.nanmean(found))


def fit(prior: GrowthPrior, reference: WeightReference, weighed: Weighed, factor: float) -> Floats:
    """The most probable numbers at the slope knots, shape (k,); the first, at birth, stays 0."""
    start = len(prior.knots_days)
    alike = default_shift(prior).covariance[start:, start:][1 : len(prior.slope_knots_days)]
    belief = factor**2 * alike[:, 1 : len(prior.slope_knots_days)]
    numbers = np.zeros(len(prior.slope_knots_days))
    for _ in range(GROSS_ROUNDS):
        precision, weighted = _information(with_slope(prior, numbers), reference, weighed)
        held = np.eye(len(weighted)) + precision @ belief
        numbers = np.concatenate([[0.0], belief @ np.linalg.solve(held, weighted)])
    return numbers


def _information(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed
) -> tuple[Floats, Floats]:
    """Precision (k-1, k-1) and precision times value (k-1,), given each infant's first weight."""
    seen = np.isfinite(weighed.weight_g)
    ages = np.where(seen, weighed.age_d, 0.0)
    site = default_shift(prior)
    grid = lay_out(prior, reference, weighed, ages)
    residual = np.where(seen, weighed.weight_g - mean_of(grid, site), 0.0)
    noise, together = error_variance(prior, weighed, site)
    covariance = walk_covariance(prior, grid, grid, site.spread)
    covariance = covariance + shared_covariance(grid, grid, site) + together
    noise, _ = weigh_down(prior, covariance, residual, seen, noise, site.gross_share)
    none = np.zeros(len(prior.slope_knots_days))
    plain_g = lay_out(with_slope(prior, none), reference, weighed, ages).mean_g
    columns = [
        lay_out(with_slope(prior, one), reference, weighed, ages).mean_g - plain_g
        for one in np.eye(len(none))[1:]
    ]
    design = np.where(seen[..., None], np.stack(columns, axis=-1), 0.0)
    away = np.where(seen, weighed.weight_g - plain_g, 0.0)
    carried = np.swapaxes(design, 1, 2) @ invert(covariance, seen, noise)
    infants = np.arange(weighed.count)
    first = np.where(seen, weighed.age_d, np.inf).argmin(axis=1)
    alone = covariance[infants, first, first] + noise[infants, first]
    born = design[infants, first] / alone[:, None]
    precision = np.einsum("nkm,nmj->kj", carried, design) - born.T @ design[infants, first]
    return precision, np.einsum("nkm,nm->k", carried, away) - born.T @ away[infants, first]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weights", type=Path, default=DEFAULT_WEIGHTS)
    weighed = read_study(parser.parse_args().weights).weighed
    prior, reference = default_growth()
    print("| width of the prior | days " + " | ".join(f"{d:g}" for d in prior.slope_knots_days)
          + " | mean CRPS of infants left out, growth z |\n|" + "---|" * 7)  # fmt: skip
    for factor, left_out in zip(FACTORS, losses_by_factor(prior, reference, weighed), strict=True):
        numbers = fit(prior, reference, weighed, factor)
        print(f"| {factor:g} | " + " | ".join(f"{z:.3f}" for z in numbers) + f" | {left_out:.5f} |")
    print("content:", prior.small_slope_z)


if __name__ == "__main__":
    main()
