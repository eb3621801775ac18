"""Centiles and the scores they stand for."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from suffice.clinical.growth.standard import Floats


def centile_of_z(z: ArrayLike) -> Floats:
    """Centile (0 to 100) of a score: 100 Phi(z); nan stays nan."""
    return np.asarray(100 * ndtr(np.asarray(z, dtype=np.float64)))


def z_of_centile(centile: ArrayLike) -> Floats:
    """Score of a centile; nan unless it lies between 0 and 100, both excluded."""
    share = np.asarray(centile, dtype=np.float64) / 100
    inside = (share > 0) & (share < 1)
    return np.where(inside, ndtri(np.where(inside, share, np.nan)), np.nan)
