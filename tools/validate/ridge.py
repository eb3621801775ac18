"""A ridge regression trained on half of the very cohort: what could be learned from it alone.

It sees what the forecast sees (weights, ages, sex, gestation, the age asked about) and, unlike it,
the later weights of the other half. Missing weights are filled by the mean of those who have one, and
that they were missing is told. The penalty is chosen by five folds of the half it is trained on.
"""

from __future__ import annotations

import numpy as np
from tools.validate.weight_forecasts import Task

from suffice.inference.growth.prior import Floats

PENALTIES = (0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0)
FOLDS = 5


def ridge_errors(task: Task, halves: tuple[np.ndarray, np.ndarray]) -> Floats:
    """Errors, g, of each infant of a task by the regression of the half in which it is not."""
    features = _features(task)
    target = task.truth_g - task.last_g
    errors = np.full(len(target), np.nan)
    for part in halves:
        mine = np.isin(task.rows, part)
        penalty = _best(features[~mine], target[~mine])
        errors[mine] = (
            _predict(features[~mine], target[~mine], features[mine], penalty) - target[mine]
        )
    return errors


def _features(task: Task) -> Floats:
    known = task.known
    weights = known.weight_g - task.last_g[:, None]
    columns = [task.last_g, task.at_d - task.last_d, known.male_share, known.gestation_days]
    for column in range(weights.shape[1]):
        columns.extend([weights[:, column], known.age_d[:, column]])
    table = np.stack(columns, axis=1)
    missing = ~np.isfinite(table)
    seen = ~missing.all(axis=0)
    table, missing = table[:, seen], missing[:, seen]
    filled = np.where(missing, np.nanmean(table, axis=0), table)
    return np.concatenate([filled, missing[:, missing.any(axis=0)].astype(float)], axis=1)


def _predict(x: Floats, y: Floats, at: Floats, penalty: float) -> Floats:
    mean, sd = x.mean(axis=0), x.std(axis=0)
    use = sd > 1e-9
    scaled = (x[:, use] - mean[use]) / sd[use]
    held = scaled.T @ scaled + penalty * np.eye(int(use.sum()))
    slope = np.linalg.solve(held, scaled.T @ (y - y.mean()))
    found: Floats = y.mean() + (at[:, use] - mean[use]) / sd[use] @ slope
    return found


def _best(x: Floats, y: Floats) -> float:
    fold = np.random.default_rng(0).permutation(len(y)) % FOLDS
    losses = [
        sum(
            float(
                (
                    (_predict(x[fold != k], y[fold != k], x[fold == k], penalty) - y[fold == k])
                    ** 2
                ).sum()
            )
            for k in range(FOLDS)
        )
        for penalty in PENALTIES
    ]
    return PENALTIES[int(np.argmin(losses))]
