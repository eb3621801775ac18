"""The growth prior on real infants against the two rules of practice.

Source: weights of 300 infants of low birth weight at 0 to 26 weeks (published with the R package
gigs), kept beside the checkout. Known faults of the data: some weeks hold the weight of another
week; the first weight is of day 0 to 3, ages are whole days; feeding is not known. The infants that
are scored never tell anything about themselves: of ten folds, the other nine give
`forecast.small_slope_z` and the site's shift. docs/validation/real.md has all numbers.
"""

from __future__ import annotations

import numpy as np
import pytest

from sweeps import each
from tool_modules import tool_module

pytestmark = [pytest.mark.shared, pytest.mark.slow]


@pytest.fixture(scope="module")
def real():
    found = tool_module("validate.real")
    if not found.DEFAULT_WEIGHTS.exists():
        pytest.skip("open data not present: ../shared/data/weights/life6mo_300.csv")
    return found


@pytest.fixture(scope="module")
def study(real):
    return real.read_study(real.DEFAULT_WEIGHTS)


def test_the_shipped_term_is_what_its_procedure_gives(real, study):
    prior, reference = real.default_growth()
    found = tool_module("fit_small_slope").fitted(prior, reference, study.weighed)
    np.testing.assert_allclose(prior.small_slope_z, found.small_slope_z, atol=0.0051)


def test_infants_left_out_are_forecast_better_than_by_both_rules(real, study):
    """A pass over the folds is 10 s of work, so that all that is asked of it is asked here.

    With a site pooled from the others too in `make sweep` (and `make validate`).
    """
    better = {False: 12, True: 13}
    for with_site, found in real.crossed(study, sites=each(2) == 1).items():
        ratios = np.array([score.ratio for score in found])
        assert ratios.mean() < 0.95, with_site
        assert (ratios < 1).sum() >= better[with_site], with_site
        assert ratios.max() < 1.05, with_site
        check_that_intervals_cover_what_they_say_and_little_more(found)
        check_that_few_tasks_are_covered_otherwise_than_chance_explains(found)


def check_that_intervals_cover_what_they_say_and_little_more(found):
    """A little more, because these infants were weighed with more care than the prior supposes.

    Weekly weights of clinics ask for noise that grows to 65 g (docs/decisions/0014), these for 50 g at
    most; docs/validation/fan.md says it among what misses its target (77 to 83 for 80 %).
    """
    cover = np.array([score.coverage for score in found])
    assert 0.79 <= cover[:, 1].mean() <= 0.85
    assert 0.49 <= cover[:, 0].mean() <= 0.58
    assert 0.93 <= cover[:, 2].mean() <= 0.97


def check_that_few_tasks_are_covered_otherwise_than_chance_explains(found):
    """One of 14 perfect intervals lies beyond a 95 % range on average, three in 3 of 100 studies.

    Four do here, each because it covers too much (docs/validation/fan.md); before the noise grew it was two.
    """
    beyond = [score for score in found if score.is_beyond_chance]
    assert len(beyond) <= 4
    assert all(score.coverage[0] > 0.5 and score.coverage[1] > 0.8 for score in beyond)
    assert all(0.7 < score.coverage[1] < 0.92 for score in found)


def test_the_tool_sees_a_forecast_that_is_no_better_than_a_rule(real, study):
    """The measure itself can fail: the rule scored as a forecast has the ratio 1 at best."""
    task = study.task(2, 4, np.arange(study.weighed.count))
    forecasts = tool_module("validate.weight_forecasts")
    rule = forecasts.constant_z(task)
    spread = forecasts.Spread(
        mean_g=rule,
        sd_g=np.ones_like(rule),
        gross_share=np.zeros_like(rule),
        gross_sd_g=1.0,
        quantiles_g=np.repeat(rule[:, None], 7, axis=1),
    )
    scored = real.score(task, spread)
    assert scored.ratio >= 1
    assert scored.coverage[1] < 0.1
    assert scored.is_beyond_chance
