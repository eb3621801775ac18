"""INTERGROWTH-21st for arrays: size at birth by gestation, growth of infants born preterm.

Size at birth: whole days of gestation (a fraction counts as the nearest day), equations from 24+0
to 32+6 (Villar 2016), skew-t type 3 by day from 33+0 to 42+6 (Villar 2014). Postnatal growth: days of
postmenstrual age as given, 27+0 to 64+0 weeks (Villar 2015). Values in g and cm. A row without an
answer gives nan: age outside the standard, value missing, infinite or not above 0 (the skew-t has a
tail below 0 far out), sex not known.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from suffice.clinical.growth.standard import (
    Floats,
    Measure,
    NewbornStandard,
    NormalCurve,
    PostnatalStandard,
    SkewTTable,
    Terms,
)
from suffice.clinical.growth.who import nearest_day
from suffice.clinical.units import DAYS_PER_WEEK


def newborn_z(
    standard: NewbornStandard,
    measure: Measure,
    is_male: ArrayLike,
    gestation_days: ArrayLike,
    value: ArrayLike,
) -> Floats:
    """Score of size at birth; arguments broadcast."""
    male, day, size = _aligned(is_male, nearest_day(gestation_days), value)
    size = np.where(np.isfinite(size) & (size > 0), size, np.nan)
    late = standard.late[measure]
    is_late = day >= late.first
    early_day = _within(male, np.where(is_late, np.nan, day), standard.first_day, late.first - 1)
    late_day = _within(male, day, late.first, late.last)
    with np.errstate(invalid="ignore"):
        if is_late.all():
            return _skew_t_z(late, male, late_day, size)
        early = _normal_z(standard.early[measure], male, early_day, size)
        return np.where(is_late, _skew_t_z(late, male, late_day, size), early)


def newborn_value_at_z(
    standard: NewbornStandard,
    measure: Measure,
    is_male: ArrayLike,
    gestation_days: ArrayLike,
    z: ArrayLike,
) -> Floats:
    """Size at birth (g or cm) at a score; the inverse of :func:`newborn_z`."""
    male, day, score = _aligned(is_male, nearest_day(gestation_days), z)
    late = standard.late[measure]
    is_late = day >= late.first
    early_day = _within(male, np.where(is_late, np.nan, day), standard.first_day, late.first - 1)
    late_day = _within(male, day, late.first, late.last)
    with np.errstate(invalid="ignore"):
        early = _normal_value(standard.early[measure], male, early_day, score)
        return np.where(is_late, _skew_t_value(late, male, late_day, score), early)


def postnatal_z(
    standard: PostnatalStandard,
    measure: Measure,
    is_male: ArrayLike,
    pma_d: ArrayLike,
    value: ArrayLike,
) -> Floats:
    """Score of an infant born preterm at a postmenstrual age; arguments broadcast."""
    male, age, size = _aligned(is_male, pma_d, value)
    size = np.where(np.isfinite(size) & (size > 0), size, np.nan)
    age = _within(male, age, standard.first_day, standard.last_day)
    return _normal_z(standard.curves[measure], male, age, size)


def postnatal_value_at_z(
    standard: PostnatalStandard,
    measure: Measure,
    is_male: ArrayLike,
    pma_d: ArrayLike,
    z: ArrayLike,
) -> Floats:
    """Value (g or cm) at a score; the inverse of :func:`postnatal_z`."""
    male, age, score = _aligned(is_male, pma_d, z)
    age = _within(male, age, standard.first_day, standard.last_day)
    return _normal_value(standard.curves[measure], male, age, score)


def curve_at(curve: NormalCurve, is_male: ArrayLike, age_d: ArrayLike) -> tuple[Floats, Floats]:
    """Mean and standard deviation at an age, of the logarithm where the curve is of one."""
    weeks = np.asarray(age_d, dtype=np.float64) / DAYS_PER_WEEK
    return _terms(curve.mean, is_male, weeks), _terms(curve.sd, is_male, weeks)


def _aligned(
    is_male: ArrayLike, age_d: ArrayLike, value: ArrayLike
) -> tuple[NDArray[np.generic], Floats, Floats]:
    male, age, other = np.broadcast_arrays(
        np.asarray(is_male),
        np.asarray(age_d, dtype=np.float64),
        np.asarray(value, dtype=np.float64),
    )
    return male, age, other


def _within(is_male: NDArray[np.generic], days: Floats, first: float, last: float) -> Floats:
    """`days` with nan where there is no answer."""
    is_known = ((is_male == 0) | (is_male == 1)) & (days >= first) & (days <= last)
    return np.where(is_known, days, np.nan)


def _terms(terms: Terms, is_male: ArrayLike, weeks: Floats) -> Floats:
    squared = weeks * weeks
    total = (
        terms.constant
        + terms.root * np.sqrt(weeks)
        + terms.linear * weeks
        + terms.inverse / weeks
        + terms.inverse_square / squared
        + terms.log_inverse_square * np.log(weeks) / squared
        + terms.male * np.asarray(is_male, dtype=np.float64)
    )
    return np.asarray(total)


def _normal_z(
    curve: NormalCurve, is_male: NDArray[np.generic], days: Floats, value: Floats
) -> Floats:
    mean, sd = curve_at(curve, is_male, days)
    return ((np.log(value) if curve.is_log else value) - mean) / sd


def _normal_value(
    curve: NormalCurve, is_male: NDArray[np.generic], days: Floats, z: Floats
) -> Floats:
    mean, sd = curve_at(curve, is_male, days)
    value = mean + sd * z
    return np.exp(value) if curve.is_log else np.where(value > 0, value, np.nan)


def skew_t_at(
    table: SkewTTable, is_male: ArrayLike, days: ArrayLike
) -> tuple[Floats, Floats, Floats, Floats]:
    """Mode, scale, asymmetry and degrees of freedom at whole days; nan where the day is nan."""
    days = np.asarray(days, dtype=np.float64)
    is_known = np.isfinite(days)
    row = np.where(is_known, np.asarray(is_male), 0).astype(np.intp)
    column = np.where(is_known, days - table.first, 0).astype(np.intp)
    mode = np.where(is_known, table.mode[row, column], np.nan)
    scale = table.scale[row, column]
    return mode, scale, table.asymmetry[row], table.degrees_of_freedom[row]


def _skew_t_z(
    table: SkewTTable, is_male: NDArray[np.generic], days: Floats, value: Floats
) -> Floats:
    """Phi^-1 of the skew-t distribution, from the nearer tail so that far scores keep their digits.

    With s = asymmetry^2 and t = (value - mode) / scale, T the distribution of Student:
    below the mode P = 2 T(asymmetry t) / (1 + s); above it 1 - P = 2 s T(-t / asymmetry) / (1 + s).
    """
    mode, scale, asymmetry, freedom = skew_t_at(table, is_male, days)
    square = asymmetry * asymmetry
    along = (value - mode) / scale
    lower = 2 * stdtr(freedom, asymmetry * along) / (1 + square)
    upper = 2 * square * stdtr(freedom, -along / asymmetry) / (1 + square)
    return np.where(along < 0, ndtri(lower), -ndtri(upper))


def _skew_t_value(
    table: SkewTTable, is_male: NDArray[np.generic], days: Floats, z: Floats
) -> Floats:
    mode, scale, asymmetry, freedom = skew_t_at(table, is_male, days)
    square = asymmetry * asymmetry
    lower, upper = ndtr(z), ndtr(-z)
    is_below = lower < 1 / (1 + square)
    share = np.where(is_below, lower * (1 + square) / 2, upper * (1 + square) / (2 * square))
    quantile = stdtrit(freedom, share)
    along = np.where(is_below, quantile / asymmetry, -asymmetry * quantile)
    value = mode + scale * np.where(np.isnan(z), np.nan, along)
    return np.where(value > 0, value, np.nan)
