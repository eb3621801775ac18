"""The readings as the likelihood takes them: those up to now, in an order that entry cannot change."""

from __future__ import annotations

from itertools import permutations

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, THRIVING
from suffice.inference.evidence import DiaperCount, TestWeighing, WeightReading
from suffice.inference.infant.likelihood import Likelihood

change = msgspec.structs.replace


def test_what_lies_after_now_is_not_read():
    later = (
        *THRIVING.weights,
        WeightReading(id="late", age_d=THRIVING.now_d + 0.01, weight_g=9000.0),
    )
    likelihood = Likelihood(change(THRIVING, weights=later), POPULATION)
    assert [one.id for one in likelihood.weights] == ["w0", "w1", "w2", "w3"]
    assert likelihood.readings == tuple(("weight", f"w{k}") for k in range(4))


def test_readings_stand_by_age_whatever_the_order_of_entry():
    likelihood = Likelihood(change(THRIVING, weights=THRIVING.weights[::-1]), POPULATION)
    assert [one.age_d for one in likelihood.weights] == [1.0, 3.0, 6.0, 10.0]


def test_readings_of_one_age_and_one_name_still_have_one_order():
    twins = [WeightReading(id="same", age_d=3.0, weight_g=grams) for grams in (3100.0, 3200.0)]
    other = WeightReading(id="same", age_d=2.0, weight_g=3150.0)
    found = {
        tuple(
            one.weight_g for one in Likelihood(change(THRIVING, weights=order), POPULATION).weights
        )
        for order in permutations([*twins, other])
    }
    assert len(found) == 1
    ((first, *rest),) = found
    assert (first, sorted(rest)) == (3150.0, [3100.0, 3200.0])


def test_every_reading_is_named_with_its_kind():
    evidence = change(
        THRIVING,
        weights=THRIVING.weights[:1],
        test_weighings=(TestWeighing(id="t", age_d=5.0, transfer_g=60.0),),
        diapers=(DiaperCount(id="d", kind="wet", age_d=6.0, count=6, span_d=1.0),),
    )
    likelihood = Likelihood(evidence, POPULATION)
    assert likelihood.readings == (("weight", "w0"), ("test weighing", "t"), ("wet", "d"))
    assert likelihood.observed_g.tolist() == [3260.0]


@pytest.mark.parametrize("rows", [1, 3])
def test_each_draw_is_predicted_by_itself(rows):
    likelihood = Likelihood(THRIVING, POPULATION)
    z = np.random.default_rng(3).standard_normal((rows, likelihood.latents_count))
    together = likelihood.predictors(z)
    apart = [likelihood.predictors(one[None])[0] for one in z]
    np.testing.assert_allclose(together, apart)
