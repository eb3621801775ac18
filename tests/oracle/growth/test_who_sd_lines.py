"""WHO values at -4 to +4 SD against the lines that WHO published.

Source: WHO's daily tables of z-score lines (xlsx) for weight, length and head circumference, 0 to
730 days, and for weight-for-length by tenths of a centimetre, as kept in ropensci/gigs; the file
lies beside the checkout. 5,688 rows of 9 lines: 51,192 cells.

Known faults of the oracle: three decimals for weight (1 g) and for most lengths. Near -4 SD one
gram is up to 0.003 z in weight.
"""

from __future__ import annotations

import numpy as np
import pytest

from shared_data import shared_rows
from suffice.clinical.growth import who
from suffice.clinical.growth.standard import WhoStandard
from suffice.knowledge.tables import growth_standards

pytestmark = pytest.mark.shared

LINES = {f"SD{k}neg": -k for k in (4, 3, 2, 1)} | {f"SD{k}": k for k in (0, 1, 2, 3, 4)}
CELLS = {"weight": 13_158, "length": 13_158, "head": 13_158, "wfl": 11_718}


def lines_of(measure: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Sex, position (n, 1) and the published values (n, 9), weight in grams."""
    rows = [r for r in shared_rows("who", "oracle_who_sd_lines.csv") if r["measure"] == measure]
    is_male = np.array([[r["sex"] == "male"] for r in rows])
    position = np.array([[float(r["x"])] for r in rows])
    factor = 1000 if measure in {"weight", "wfl"} else 1
    return is_male, position, np.array([[float(r[c]) for c in LINES] for r in rows]) * factor


def z_of(standard: WhoStandard, measure: str, *rows: np.ndarray) -> np.ndarray:
    if measure == "wfl":
        return who.weight_for_length_z(standard, *rows)
    return who.for_age_z(standard, measure, *rows)


def value_of(standard: WhoStandard, measure: str, *rows: np.ndarray) -> np.ndarray:
    if measure == "wfl":
        return who.weight_for_length_value_at_z(standard, *rows)
    return who.for_age_value_at_z(standard, measure, *rows)


@pytest.mark.parametrize("measure", CELLS)
def test_every_published_cell_is_met_to_its_printed_precision(measure: str) -> None:
    is_male, position, published = lines_of(measure)
    assert published.size == CELLS[measure]
    z = np.array([list(LINES.values())], dtype=float)
    ours = value_of(growth_standards().who, measure, is_male, position, z)
    precision = 1 if measure in {"weight", "wfl"} else 0.001
    assert np.abs(ours - published).max() <= 0.5 * precision * 1.01


@pytest.mark.parametrize("measure", CELLS)
def test_every_published_cell_has_its_score_to_a_hundredth(measure: str) -> None:
    is_male, position, published = lines_of(measure)
    z = np.array([list(LINES.values())], dtype=float)
    ours = z_of(growth_standards().who, measure, is_male, position, published)
    assert np.abs(ours - z).max() < 0.01
