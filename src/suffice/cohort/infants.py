"""The infants of one part of a cohort, as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from suffice.inference.growth.prior import Weighed


@dataclass(frozen=True, eq=False, kw_only=True)
class Part:
    """The infants of a part as arrays, and what was found wrong between their rows.

    `weighed` holds the weights as given; `clothing`, of the same shape, in what each was taken ("" where
    it is not said), and `naked` the weights with that taken off.

    `has_usable_row` says of each whether any of its rows is a usable weight up to the question: a
    birth weight that stands beside refused rows alone is not assessed.
    """

    infants: pl.DataFrame
    weighed: Weighed
    naked: Weighed
    clothing: np.ndarray
    now_d: np.ndarray
    has_birth_weight: np.ndarray
    has_usable_row: np.ndarray
    problems: pl.DataFrame
