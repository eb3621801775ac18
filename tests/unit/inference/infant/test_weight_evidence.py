from __future__ import annotations

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, THRIVING, weights
from suffice.inference.evidence import DiaperCount, Evidence, TestWeighing
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import find_best_mode
from suffice.inference.infant.weight_evidence import weights_log_density


def log_density(evidence):
    likelihood = Likelihood(evidence, POPULATION)
    mode, _ = find_best_mode(likelihood, quickly=True)
    return weights_log_density(likelihood, mode)


def test_the_density_of_a_weight_is_one_over_every_weight():
    """But for what the likeliest kind of error leaves out: weights far off have several explanations."""
    step = 15.0
    each = [
        np.exp(
            log_density(
                Evidence(
                    now_d=9.0, birth_weight_g=3400.0, sex="male", weights=weights((9.0, float(g)))
                )
            )
        )
        for g in np.arange(1500.0, 6000.0, step)
    ]
    assert step * np.sum(each) == pytest.approx(1.0, abs=0.05)


def test_it_is_what_many_draws_of_the_course_say():
    """The mean likelihood over the prior, by draws; one family's noise and kinds of error are a bit more."""
    likelihood = Likelihood(THRIVING, POPULATION)
    z = np.random.default_rng(5).standard_normal((400_000, likelihood.latents_count))
    logs = np.concatenate(
        [likelihood.log_likelihood(likelihood.predictors(part)) for part in np.split(z, 40)]
    )
    expected = float(logs.max() + np.log(np.mean(np.exp(logs - logs.max()))))
    assert log_density(THRIVING) == pytest.approx(expected, abs=0.7)


def test_a_slip_is_unlikely_and_other_readings_say_nothing_of_the_weights():
    spoilt = msgspec.structs.replace(
        THRIVING, weights=weights((1.0, 3260.0), (3.0, 3170.0), (6.0, 3990.0), (10.0, 3450.0))
    )
    assert log_density(spoilt) < log_density(THRIVING) - 3
    more = msgspec.structs.replace(
        THRIVING,
        test_weighings=(
            TestWeighing(id="t", age_d=9.0, transfer_g=560.0, feeds_count=8, whole_day=True),
        ),
        diapers=(DiaperCount(id="d", kind="wet", age_d=9.0, count=6),),
    )
    assert log_density(more) == pytest.approx(log_density(THRIVING), abs=1e-9)


def test_without_weights_there_is_nothing_to_find_likely():
    assert log_density(Evidence(now_d=2.0, birth_weight_g=3300.0)) == 0.0
