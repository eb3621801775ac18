"""What marks say as they stand in the picture, with a ruler and a protractor.

In a pure side view these are the values themselves. A picture that is turned by 20 degrees shifts
the angle read from it by -20 or +30 degrees: what is shown comes from `suffice.inference.latch`,
and what is computed here stands beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.latch.mark import PLACES, Mark, Place
from suffice.clinical.units import FULL_TURN_DEG

Floats = NDArray[np.float64]

_AT: dict[Place, int] = {place: index for index, place in enumerate(PLACES)}
DIGITS = 6
"""To which marks are rounded once the picture is straight, in parts of the nose-chin distance: what a
zoom or a turn of the picture changes in the last bits changes nothing of the answer."""


@dataclass(frozen=True, kw_only=True)
class InPicture:
    """A reading with ruler and protractor.

    Attributes:
        opening_ratio: Gap between the lips over tip of the nose to chin.
        gape_deg: Angle at the corner of the mouth on the side of the breast, 0 to 360.
        areola_share: Visible above the upper lip over above and below; None: not both marked.
        nose_gap_ratio: Tip of the nose to breast, in parts of tip of the nose to chin; None: not marked.
        chin_gap_ratio: The same of the chin.
    """

    opening_ratio: float
    gape_deg: float
    areola_share: float | None
    nose_gap_ratio: float | None
    chin_gap_ratio: float | None


def means(marks: Sequence[Mark]) -> tuple[Floats, NDArray[np.intp]]:
    """The mean of the marks of each place, (places, 2), nan where there is none; and how many, (places,)."""
    counts = np.zeros(len(PLACES), dtype=np.intp)
    at = np.full((len(PLACES), 2), np.nan)
    for index, place in enumerate(PLACES):
        own = sorted((one.x, one.y) for one in marks if one.place == place)
        counts[index] = len(own)
        if own:
            at[index] = np.mean(own, axis=0)
    return at, counts


def straight(at: Floats) -> Floats:
    """Marks with the nose above the chin at a distance of 1, (places, 2).

    The chin is at (0, 0), the tip of the nose at (0, 1), y goes up. However the picture is shifted,
    turned or zoomed, the result is the same to the bit, apart from a change that happens to fall on an
    edge of the rounding. Whether the infant looks to the right is not told: see :func:`mirrored`.

    Args:
        at: Means of the marks as :func:`suffice.clinical.latch.mark.means` gives them.
    """
    flat = at[:, 0] - complex(0, 1) * at[:, 1]
    chin, nose = flat[_AT["chin"]], flat[_AT["nose"]]
    up = (flat - chin) / (nose - chin)  # the nose on the real axis
    return np.asarray(np.round(np.stack([-up.imag, up.real], axis=1), DIGITS) + 0.0)


def mirrored(at: Floats) -> Floats:
    """Straight marks as they would be if the infant looked to the other side."""
    return np.asarray(at * [-1.0, 1.0] + 0.0)


def read_in_picture(at: Floats) -> InPicture:
    """What straight marks of an infant say that looks to the right; see :func:`straight`."""
    corner = at[_AT["corner"]]
    upper, lower = at[_AT["upper lip"]] - corner, at[_AT["lower lip"]] - corner
    turn = np.degrees(np.arctan2(upper[1], upper[0]) - np.arctan2(lower[1], lower[0]))
    return InPicture(
        opening_ratio=_between(at, "upper lip", "lower lip") or 0.0,
        gape_deg=float(turn % FULL_TURN_DEG),
        areola_share=_share(at),
        nose_gap_ratio=_between(at, "nose", "breast at nose"),
        chin_gap_ratio=_between(at, "chin", "breast at chin"),
    )


def _between(at: Floats, one: Place, other: Place) -> float | None:
    gap = float(np.hypot(*(at[_AT[one]] - at[_AT[other]])))
    return None if np.isnan(gap) else gap


def _share(at: Floats) -> float | None:
    above = _between(at, "upper lip", "areola above")
    below = _between(at, "lower lip", "areola below")
    if above is None or below is None or above + below == 0:
        return None
    return above / (above + below)
