"""WHO weight gain by birth weight from birth to 60 days: between which centiles a gain lies.

These centiles are empirical and stop at the median: no score can be had from them, only the two
published centiles between which a gain lies. Groups with too few children have no figures.
"""

from __future__ import annotations

import msgspec

from suffice.clinical.growth.standard import IncrementRow, IncrementStandard


class Bracket(msgspec.Struct, frozen=True, kw_only=True):
    """Where a gain lies: at or above centile `at_or_above`, below centile `below`.

    None at the open end: below the lowest, or at or above the highest centile published.
    """

    at_or_above: int | None
    below: int | None


def find_row(
    standard: IncrementStandard,
    is_male: bool,
    start_day: int,
    end_day: int,
    birth_weight_g: float | None,
) -> IncrementRow | None:
    """The published row; None if there is no such interval or group.

    `birth_weight_g` None asks for all infants together. A birth weight on a border belongs to the
    heavier group.
    """
    for row in standard.rows:
        if (row.is_male, row.start_day, row.end_day) != (is_male, start_day, end_day):
            continue
        is_all = row.from_g is None and row.below_g is None
        if birth_weight_g is None:
            if is_all:
                return row
        elif not is_all and _holds(row, birth_weight_g):
            return row
    return None


def bracket(row: IncrementRow, gain_g: float) -> Bracket:
    """The published centiles next to a gain, of those for which the row has a figure."""
    at_or_above = [c for c, limit_g in row.gain_g.items() if gain_g >= limit_g]
    below = [c for c, limit_g in row.gain_g.items() if gain_g < limit_g]
    return Bracket(at_or_above=max(at_or_above, default=None), below=min(below, default=None))


def missing_centiles(standard: IncrementStandard, row: IncrementRow) -> tuple[int, ...]:
    """Centiles of the standard for which the row has no figure."""
    return tuple(c for c in standard.centiles if c not in row.gain_g)


def _holds(row: IncrementRow, birth_weight_g: float) -> bool:
    is_above = row.from_g is None or birth_weight_g >= row.from_g
    return is_above and (row.below_g is None or birth_weight_g < row.below_g)
