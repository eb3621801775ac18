"""WHO Child Growth Standards for arrays: scores, and values at a score, birth to 730 days.

Ages are days since birth; a fraction counts as the nearest day (a half upwards), as in the WHO's own
R package. A row without an answer gives nan: age or length outside the table, a value that is
missing, infinite or not above 0, a sex that is not known.

Memory stays small and in cache: rows go through in blocks, the tables are gathered by flat index,
and the straight lines beyond the outer score are worked out only for the rows that lie there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from suffice.clinical.growth import lms
from suffice.clinical.growth.standard import (
    FEMALE,
    MALE,
    Floats,
    LmsTable,
    Measure,
    WhoStandard,
)
from suffice.clinical.units import MM_PER_CM

_BLOCK_ROWS = 1 << 13


def weight_for_age_z(
    standard: WhoStandard, is_male: ArrayLike, age_d: ArrayLike, weight_g: ArrayLike
) -> Floats:
    """Weight-for-age z; arguments broadcast to the shape of the result."""
    return for_age_z(standard, "weight", is_male, age_d, weight_g)


def for_age_z(
    standard: WhoStandard,
    measure: Measure,
    is_male: ArrayLike,
    age_d: ArrayLike,
    value: ArrayLike,
) -> Floats:
    """Score of one measure for age; `value` in g for weight, in cm otherwise."""
    table = standard.by_age[measure]
    male, age, size = np.broadcast_arrays(
        np.asarray(is_male), np.asarray(age_d), np.asarray(value, dtype=np.float64)
    )
    z = np.empty(size.shape)
    rows, male, age, size = z.ravel(), male.ravel(), age.ravel(), size.ravel()
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for start in range(0, rows.size, _BLOCK_ROWS):
            block = slice(start, start + _BLOCK_ROWS)
            _score_block(table, male[block], age[block], size[block], rows[block])
    return z


def one_for_age_z(table: LmsTable, *, is_male: bool, day: int, value: float) -> float:
    """The score of one value at a whole day of a table, to the bit what :func:`for_age_z` gives.

    Args:
        table: A table by age.
        is_male: Which half of it.
        day: A day of the table.
        value: Finite and above 0.
    """
    median, cv, skew = table.at(is_male, day)
    place = (MALE if is_male else FEMALE, day - table.first)
    if table.is_linear:
        z = (value - median) * table.inverse_spread[place]
    else:
        # NumPy's own functions: the last bits of those of the standard library may differ.
        log_ratio = np.log(value) - table.log_median[place]
        z = np.expm1(log_ratio * skew) * table.inverse_spread[place]
    if table.outer_z is None or abs(z) <= table.outer_z:
        return float(z)
    row = np.array([[z], [value], [median], [cv], [skew]])
    return float(lms.beyond_outer(row[0], row[1], row[2], row[3], row[4], table.outer_z)[0])


def weight_for_length_z(
    standard: WhoStandard, is_male: ArrayLike, length_cm: ArrayLike, weight_g: ArrayLike
) -> Floats:
    """Weight-for-length z (lying); the curve is interpolated between tenths of a centimetre."""
    table = standard.weight_for_length
    male, length, weight = np.broadcast_arrays(
        np.asarray(is_male),
        np.asarray(length_cm, dtype=np.float64),
        np.asarray(weight_g, dtype=np.float64),
    )
    z = np.empty(weight.shape)
    rows, male, length, weight = (part.ravel() for part in (z, male, length, weight))
    with np.errstate(invalid="ignore", over="ignore"):
        for start in range(0, rows.size, _BLOCK_ROWS):
            block = slice(start, start + _BLOCK_ROWS)
            median, cv, skew = curve_at_length(table, male[block], length[block])
            rows[block] = lms.z_score(weight[block], median, cv, skew, table.outer_z)
    return z


def for_age_value_at_z(
    standard: WhoStandard, measure: Measure, is_male: ArrayLike, age_d: ArrayLike, z: ArrayLike
) -> Floats:
    """Value (g or cm) at a score for age; the inverse of :func:`for_age_z`."""
    table = standard.by_age[measure]
    male, age = np.broadcast_arrays(np.asarray(is_male), np.asarray(age_d))
    column, is_known = _columns(table, male, age)
    index = np.where(is_known, column, 0)
    median, cv, skew = (part.reshape(-1)[index] for part in _parts(table))
    return lms.value_at_z(z, np.where(is_known, median, np.nan), cv, skew, table.outer_z)


def weight_for_length_value_at_z(
    standard: WhoStandard, is_male: ArrayLike, length_cm: ArrayLike, z: ArrayLike
) -> Floats:
    """Weight (g) at a score for length; the inverse of :func:`weight_for_length_z`."""
    table = standard.weight_for_length
    male, length = np.broadcast_arrays(np.asarray(is_male), np.asarray(length_cm, dtype=np.float64))
    return lms.value_at_z(z, *curve_at_length(table, male, length), table.outer_z)


def curve_at_length(
    table: LmsTable, is_male: ArrayLike, length_cm: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """Median (g), cv and skew at a length, interpolated; nan outside the table."""
    male = np.asarray(is_male)
    # Rounded to a micrometre of a millimetre so that 45.1 cm is the tenth itself, not a hair off.
    length_mm = np.round(np.asarray(length_cm, dtype=np.float64) * MM_PER_CM, 9)
    is_known = _is_sex(male) & (length_mm >= table.first) & (length_mm <= table.last)
    along = np.where(is_known, length_mm - table.first, 0)
    left = np.minimum(along.astype(np.intp), table.size - 2)
    share = np.where(is_known, along - left, np.nan)
    index = left + (male == 1) * table.size
    curve = []
    for part in _parts(table):
        flat = part.reshape(-1)
        curve.append(flat[index] * (1 - share) + flat[index + 1] * share)
    return curve[0], curve[1], curve[2]


def nearest_day(age_d: ArrayLike) -> Floats:
    """The whole day nearest to an age, a half upwards; nan stays nan."""
    return np.floor(np.asarray(age_d, dtype=np.float64) + 1 / 2)


def _parts(table: LmsTable) -> tuple[Floats, Floats, Floats]:
    return table.median, table.cv, table.skew


def _is_sex(is_male: NDArray[np.generic]) -> NDArray[np.bool_]:
    return np.asarray((is_male == 0) | (is_male == 1))


def _columns(
    table: LmsTable, is_male: NDArray[np.generic], age_d: NDArray[np.generic]
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Flat index into the table and whether it may be used."""
    day = nearest_day(age_d)
    # The age itself, not its day: -0.3 would round to day 0.
    is_known = _is_sex(is_male) & (np.asarray(age_d, dtype=np.float64) >= table.first)
    is_known &= day <= table.last
    index = np.where(is_known, day - table.first, 0).astype(np.intp)
    return index + (is_male == 1) * table.size, is_known


def _score_block(
    table: LmsTable,
    is_male: NDArray[np.generic],
    age_d: NDArray[np.generic],
    value: Floats,
    z: Floats,
) -> None:
    """Scores one block of rows into `z`."""
    index = _plain_index(table, is_male, age_d)
    refused: NDArray[np.bool_] | None = None
    if index is None:
        index, is_known = _columns(table, is_male, age_d)
        refused = ~is_known
    if not (value.min() > 0 and value.max() < np.inf):  # also true when one of them is nan
        is_bad = ~((value > 0) & (value < np.inf))
        refused = is_bad if refused is None else refused | is_bad
    if table.is_linear:
        table.median.take(index, out=z, mode="clip")
        np.subtract(value, z, out=z)
    else:
        np.log(value, out=z)
        z -= table.log_median.take(index, mode="clip")
        z *= table.skew.take(index, mode="clip")
        np.expm1(z, out=z)
    z *= table.inverse_spread.take(index, mode="clip")
    if refused is not None:
        z[refused] = np.nan
    if table.outer_z is None:
        return
    far = np.flatnonzero(np.abs(z) > table.outer_z)
    if far.size:
        median, cv, skew = (part.take(index[far]) for part in _parts(table))
        z[far] = lms.beyond_outer(z[far], value[far], median, cv, skew, table.outer_z)


def _plain_index(
    table: LmsTable, is_male: NDArray[np.generic], age_d: NDArray[np.generic]
) -> NDArray[np.intp] | None:
    """The flat index when all sexes are known and all ages whole days of the table, else None."""
    if age_d.dtype.kind not in "iu" or is_male.dtype != np.bool_:
        return None
    if age_d.min() < table.first or age_d.max() > table.last:
        return None
    index: NDArray[np.intp] = np.multiply(is_male, np.intp(table.size), dtype=np.intp)
    np.add(index, age_d, out=index, casting="unsafe")  # uint64 ages as well
    index -= table.first
    return index
