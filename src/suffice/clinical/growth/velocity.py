"""WHO weight gain over 1 and 2 months for arrays, by the intervals that WHO published (2009).

    z = (((gain_g + shift_g) / shifted_median_g)^skew - 1) / (skew cv)

A loss greater than the shift has no score and gives nan. There is no rule beyond 3 here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from suffice.clinical.growth import lms
from suffice.clinical.growth.standard import Floats, VelocityStandard
from suffice.clinical.growth.who import nearest_day


def gain_z(
    standard: VelocityStandard, is_male: ArrayLike, interval: ArrayLike, gain_g: ArrayLike
) -> Floats:
    """Score of a gain over an interval, given as its position in the standard; arguments broadcast."""
    curve, shift_g = _curve(standard, is_male, interval)
    return lms.z_score(np.asarray(gain_g, dtype=np.float64) + shift_g, *curve)


def gain_at_z(
    standard: VelocityStandard, is_male: ArrayLike, interval: ArrayLike, z: ArrayLike
) -> Floats:
    """Gain (g) at a score; the inverse of :func:`gain_z`."""
    curve, shift_g = _curve(standard, is_male, interval)
    return lms.value_at_z(z, *curve) - shift_g


def nearest_interval(
    standard: VelocityStandard, start_day: float, end_day: float, tolerance_days: float
) -> int | None:
    """Position of the interval whose ends lie nearest to two ages; None if an end is further off.

    An interval from birth begins with the birth weight: a first weight of a later day has the
    newborn's loss behind it, and the gain since then would look like a better one.

    Args:
        standard: The intervals.
        start_day: Age in days at the first weight.
        end_day: Age in days at the second.
        tolerance_days: How far either end may lie from the interval's own.
    """
    off = np.maximum(np.abs(standard.start_day - start_day), np.abs(standard.end_day - end_day))
    if not is_at_birth(start_day):
        off = np.where(standard.start_day == 0, np.inf, off)
    best = int(np.argmin(off))
    return best if off[best] <= tolerance_days else None


def is_at_birth(age_d: float) -> bool:
    """Whether a weight at this age stands for the birth weight: its nearest day is day 0."""
    return age_d >= 0 and bool(nearest_day(age_d) == 0)


def _curve(
    standard: VelocityStandard, is_male: ArrayLike, interval: ArrayLike
) -> tuple[tuple[Floats, Floats, Floats], NDArray[np.float64]]:
    male, position = np.broadcast_arrays(np.asarray(is_male), np.asarray(interval))
    is_known = ((male == 0) | (male == 1)) & (position >= 0) & (position < standard.start_day.size)
    row = np.where(is_known, male, 0).astype(np.intp)
    column = np.where(is_known, position, 0).astype(np.intp)
    median = np.where(is_known, standard.shifted_median_g[row, column], np.nan)
    curve = (median, standard.cv[row, column], standard.skew[row, column])
    return curve, standard.shift_g[column]
