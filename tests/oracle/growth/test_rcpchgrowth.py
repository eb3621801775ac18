"""WHO z-scores against rcpchgrowth, an independent program, on a grid.

Source: PyPI rcpchgrowth 4.6.5 (test group), reference 'who', both sexes, days 0 to 28, every 18th day
to 729, and 730; weight, length and head circumference at twelve scores from -4.5 to 4.5.

Known faults of the oracle: ages are decimal years (day / 365.25), looked up in a table rounded to
four decimals or more; below five years it draws the straight lines beyond +-3 for length and head as
well, which changes nothing where the skewness is 1; it has no weight-for-length.
"""

from __future__ import annotations

import numpy as np
import pytest
from rcpchgrowth.global_functions import sds_for_measurement

from suffice.clinical.growth import who
from suffice.knowledge.tables import growth_standards

SCORES = np.array([-4.5, -3.5, -3.01, -2.5, -1.5, -0.67, 0.0, 0.67, 1.5, 2.5, 3.01, 4.5])
DAYS = np.concatenate([np.arange(0, 29), np.arange(45, 730, 18), [730]])
METHODS = {"weight": "weight", "length": "height", "head": "ofc"}


@pytest.mark.parametrize("sex", ["male", "female"])
@pytest.mark.parametrize("measure", METHODS)
def test_the_grid_agrees_to_a_hundredth(measure: str, sex: str) -> None:
    standard = growth_standards().who
    days, scores = np.meshgrid(DAYS, SCORES, indexing="ij")
    value = who.for_age_value_at_z(standard, measure, sex == "male", days, scores)
    # Rounded as a scale or tape would, so that our own inverse does not answer the question.
    value = np.round(value / 5) * 5 if measure == "weight" else np.round(value, 1)
    ours = who.for_age_z(standard, measure, sex == "male", days, value)
    factor = 1000 if measure == "weight" else 1
    theirs = np.array(
        [
            sds_for_measurement(
                reference="who",
                age=day / 365.25,
                measurement_method=METHODS[measure],
                observation_value=float(size) / factor,
                sex=sex,
            )
            for day, size in zip(days.ravel(), value.ravel(), strict=True)
        ]
    ).reshape(days.shape)
    assert np.abs(ours - theirs).max() < 0.01
