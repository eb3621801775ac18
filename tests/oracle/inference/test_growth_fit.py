"""The walk of the growth prior is what its derivation from published figures gives.

Sources: named in tools/fit_growth_prior.py, figure by figure. Known faults: the uncertainty given to
each source is a judgement, and the sources disagree with each other by more than it at some points
(the correlation of successive gains; the first week); the test shows that the numbers shipped are
those of the stated criterion, not that the criterion is the only sensible one.
"""

from __future__ import annotations

import numpy as np
import pytest

from growth_cohorts import PRIOR, REFERENCE
from suffice.knowledge.tables import growth_standards
from tool_modules import tool_module


@pytest.fixture(scope="module")
def tool():
    return tool_module("fit_growth_prior")


@pytest.fixture(scope="module")
def wanted(tool):
    return tool.figures(growth_standards(), REFERENCE)


def squares(tool, wanted, numbers) -> float:
    prior = tool.with_walk(PRIOR, np.array(numbers))
    return float((tool.residuals(prior, REFERENCE, wanted) ** 2).sum())


SHIPPED = (PRIOR.stretch_days, PRIOR.smooth_share, PRIOR.walk_length)


def test_every_published_figure_takes_part(wanted):
    sources = [figure.source for figure in wanted]
    assert [sources.count(name) for name in ("WHO, 1 mo", "WHO, 2 mo", "WHO, weeks")] == [
        24,
        10,
        10,
    ]
    assert [sources.count(name) for name in ("SMOCC", "SMOCC, correlation", "newborns")] == [
        3,
        2,
        3,
    ]


def test_figures_read_from_the_tables_are_the_printed_ones(wanted):
    """Boys, 28 to 42 days: median 550 g, 10th centile 350 g; boys, 28 days: median gain 1023 g."""
    fortnight = next(
        f for f in wanted if f.source == "WHO, weeks" and f.span == (28, 42) and f.sexes == (1,)
    )
    assert fortnight.value == pytest.approx(200 / 1.2816, rel=0.05)
    month = next(
        f for f in wanted if f.source == "WHO, 1 mo" and f.span == (0, 28) and f.sexes == (1,)
    )
    assert month.value == pytest.approx((1509 - 369) / (1.6449 + 1.8808), rel=0.03)  # p3 to p95


def test_the_shipped_walk_is_the_fitted_one(tool, wanted):
    found = tool.fit(PRIOR, REFERENCE, wanted)
    np.testing.assert_allclose(SHIPPED, found, rtol=0.01)
    assert squares(tool, wanted, SHIPPED) < squares(tool, wanted, found) + 0.1


@pytest.mark.parametrize("which", [0, 1, 2])
@pytest.mark.parametrize("factor", [0.93, 1.07])
def test_moving_one_number_of_the_walk_fits_worse(tool, wanted, which, factor):
    moved = list(SHIPPED)
    moved[which] *= factor
    assert squares(tool, wanted, moved) > squares(tool, wanted, SHIPPED) + 1
