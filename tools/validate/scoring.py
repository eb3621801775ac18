"""Scores of forecasts: error, CRPS, coverage, calibration of ranks, Brier, area under the curve."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtrc, ndtr

RANK_BINS = 10
LEVELS = (0.5, 0.8, 0.95)


def rmse(error: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(error))))


def crps_of_draws(ordered: np.ndarray, truth: float) -> float:
    """CRPS of equally likely, sorted draws."""
    n = len(ordered)
    spread = float((ordered * (2 * np.arange(1, n + 1) - n - 1)).sum()) / n**2
    return float(np.abs(ordered - truth).mean()) - spread


def crps_of_normal(mean: np.ndarray, sd: float, truth: np.ndarray) -> float:
    """Mean CRPS of normal forecasts with one SD."""
    z = (truth - mean) / sd
    density = np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    return float(np.mean(sd * (z * (2 * ndtr(z) - 1) + 2 * density - 1 / np.sqrt(np.pi))))


def rank(draws: np.ndarray, truth: float) -> float:
    """Where the truth falls among the draws, 0 to 1: uniform if the forecast is calibrated."""
    return float((np.count_nonzero(draws < truth) + 0.5) / (len(draws) + 1))


def coverage(ranks: np.ndarray) -> dict[str, float]:
    """Share of truths inside the central intervals, and the chi-square p of uniform ranks."""
    found = {f"cover_{round(100 * x)}": float(np.mean(np.abs(ranks - 0.5) < x / 2)) for x in LEVELS}
    counts = np.histogram(ranks, RANK_BINS, (0, 1))[0]
    expected = len(ranks) / RANK_BINS
    found["rank_p"] = float(chdtrc(RANK_BINS - 1, ((counts - expected) ** 2 / expected).sum()))
    return found


def brier(probability: np.ndarray, happened: np.ndarray) -> float:
    return float(np.mean((probability - happened) ** 2))


def auroc(score: np.ndarray, happened: np.ndarray) -> float | None:
    """Area under the ROC curve, ties counted half; None when only one outcome occurs."""
    yes, no = score[happened], score[~happened]
    if not len(yes) or not len(no):
        return None
    order = np.searchsorted(np.sort(no), yes, "left") + np.searchsorted(np.sort(no), yes, "right")
    return float(order.mean() / 2 / len(no))
