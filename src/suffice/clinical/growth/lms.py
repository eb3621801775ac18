"""The LMS method: scores and values from skewness, median and coefficient of variation.

    z = ((value / median)^skew - 1) / (skew cv)

and, where an `outer_z` is given (WHO, weight only), straight lines beyond +-outer_z with the
distance between the lines at outer_z and outer_z - 1 as the unit, so that a heavy tail is not
made heavier by the power.

Source: Cole 1990; WHO Child Growth Standards, methods and development (2006), chapter 7.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from suffice.clinical.growth.standard import Floats


def value_at_z(
    z: ArrayLike,
    median: ArrayLike,
    cv: ArrayLike,
    skew: ArrayLike,
    outer_z: float | None = None,
) -> Floats:
    """Value at a score, in the unit of `median`; nan where the curve has none above 0 there."""
    z = np.asarray(z, dtype=np.float64)
    if outer_z is None:
        return _power_value(z, median, cv, skew)
    inner = _power_value(np.clip(z, -outer_z, outer_z), median, cv, skew)
    side = np.sign(z)
    unit = side * (inner - _power_value(side * (outer_z - 1), median, cv, skew))
    beyond = np.abs(z) - outer_z
    value = np.where(beyond > 0, inner + side * np.maximum(beyond, 0) * unit, inner)
    return np.where(value > 0, value, np.nan)


def z_score(
    value: ArrayLike,
    median: ArrayLike,
    cv: ArrayLike,
    skew: ArrayLike,
    outer_z: float | None = None,
) -> Floats:
    """Score of a value; nan unless the value is finite and above 0. Arguments broadcast."""
    value = np.asarray(value, dtype=np.float64)
    value = np.where(np.isfinite(value) & (value > 0), value, np.nan)
    median, cv, skew = (np.asarray(part, dtype=np.float64) for part in (median, cv, skew))
    value, median, cv, skew = np.broadcast_arrays(value, median, cv, skew)
    log_ratio = np.log(value / median)
    is_log = skew == 0
    power = np.where(is_log, 1, skew)
    z = np.asarray(np.where(is_log, log_ratio / cv, np.expm1(power * log_ratio) / (power * cv)))
    if outer_z is not None:
        far = np.abs(z) > outer_z
        z[far] = beyond_outer(z[far], value[far], median[far], cv[far], skew[far], outer_z)
    return z


def beyond_outer(
    z: Floats, value: Floats, median: Floats, cv: Floats, skew: Floats, outer_z: float
) -> Floats:
    """Scores on the straight lines, for rows whose `z` lies beyond +-outer_z."""
    side = np.where(z > 0, 1.0, -1.0)
    outer = _power_value(side * outer_z, median, cv, skew)
    unit = side * (outer - _power_value(side * (outer_z - 1), median, cv, skew))
    return np.asarray(side * outer_z + (value - outer) / unit)


def _power_value(z: ArrayLike, median: ArrayLike, cv: ArrayLike, skew: ArrayLike) -> Floats:
    """The value median (1 + skew cv z)^(1 / skew), its limit median exp(cv z) at skew 0."""
    z, median, cv, skew = (np.asarray(part, dtype=np.float64) for part in (z, median, cv, skew))
    is_log = skew == 0
    power = np.where(is_log, 1, skew)
    reach = power * cv * z
    # A base at or below 0 lies beyond the end of the curve: there is no such value.
    log_base = np.log1p(np.where(reach > -1, reach, np.nan))
    return median * np.exp(np.where(is_log, cv * z, log_base / power))
