import msgspec
import numpy as np
import pytest
from scipy.special import ndtri

from engine_setting import POPULATION, QUESTION, STRUGGLING, THRIVING
from suffice.inference.estimate import Forecast
from suffice.inference.evidence import Evidence, MilkGiven, Scale, TestWeighing, WeightReading
from suffice.inference.growth.blend import (
    _with_regain,
    combine,
    growth_share,
    weighed_of,
    with_growth,
)
from suffice.inference.growth.forecast import LEVELS, forecast
from suffice.inference.infant.answer import answer
from suffice.knowledge.growth_forecast import growth_of
from suffice.knowledge.store import load

GROWTH = growth_of(load())
AGES = (20.0, 27.0, 34.0)


def evidence(**more) -> Evidence:
    weights = (
        WeightReading(id="b", age_d=10.0, weight_g=3350),
        WeightReading(id="a", age_d=20.0, weight_g=3700),
    )
    return Evidence(now_d=20.0, birth_weight_g=3300, sex="female", weights=weights, **more)


def fan(mean_g: list[float], sd_g: float) -> Forecast:
    rows = np.array(mean_g)[:, None] + sd_g * ndtri(np.array(LEVELS))
    return Forecast(
        age_d=AGES, levels=LEVELS, weight_g=tuple(map(tuple, rows)), milk_given_ml_per_day=0.0
    )


def grown() -> tuple[np.ndarray, np.ndarray]:
    found = forecast(
        GROWTH.prior, GROWTH.reference, weighed_of(evidence(), GROWTH), np.array([AGES])
    )
    return found.mean_g[0], found.sd_g[0]


def test_two_fans_that_agree_are_left_where_they_are():
    mean, sd = grown()
    alike = fan(list(mean), float(sd[1]))
    pooled = np.array(combine(evidence(), alike, GROWTH).weight_g)
    np.testing.assert_allclose(pooled[1], alike.weight_g[1], atol=0.1)


def test_the_pooled_median_lies_between_the_two():
    mean, _ = grown()
    pooled = np.array(combine(evidence(), fan(list(mean + 200), 100.0), GROWTH).weight_g)[:, 3]
    assert (pooled > mean).all()
    assert (pooled < mean + 200).all()


def test_disagreement_widens_the_fan():
    mean, sd = grown()

    def width(apart: float) -> float:
        told = combine(evidence(), fan(list(mean + apart), float(sd[1])), GROWTH).weight_g[1]
        return told[-1] - told[0]

    assert width(0) < width(150) < width(400)


def test_the_growth_prior_counts_more_with_age_and_where_the_other_is_unsure():
    shares = [
        float(growth_share(GROWTH, age, np.array(80.0), np.array(100.0))) for age in (1, 8, 30)
    ]
    assert shares == sorted(shares)
    assert shares[0] < 0.1
    assert shares[2] > 0.75
    unsure = growth_share(GROWTH, GROWTH.even_age_d, np.array(200.0), np.array(100.0))
    assert unsure == pytest.approx(0.8)


def test_where_milk_is_given_the_energy_model_stands_alone():
    given = (MilkGiven(id="m", age_d=19.0, volume_ml=60),)
    told = fan([3700, 3900, 4100], 90.0)
    assert combine(evidence(milk_given=given), told, GROWTH) is told


def test_where_a_whole_day_was_weighed_the_energy_model_stands_alone():
    told = fan([3700, 3900, 4100], 90.0)
    day = TestWeighing(id="t", age_d=14.0, transfer_g=600.0, feeds_count=8, whole_day=True)
    one = TestWeighing(id="t", age_d=14.0, transfer_g=75.0)
    assert combine(evidence(test_weighings=(day,)), told, GROWTH) is told
    assert combine(evidence(test_weighings=(one,)), told, GROWTH) is not told


def test_an_age_beyond_the_reference_leaves_the_fan_alone():
    told = msgspec.structs.replace(fan([3700, 3900, 4100], 90.0), age_d=(720.0, 727.0, 734.0))
    assert combine(evidence(), told, GROWTH) is told


def test_ages_levels_and_order_of_the_fan_stay():
    told = fan([3700, 3900, 4100], 90.0)
    pooled = combine(evidence(), told, GROWTH)
    assert (pooled.age_d, pooled.levels) == (told.age_d, told.levels)
    assert (np.diff(np.array(pooled.weight_g), axis=1) > 0).all()


def test_weights_after_now_are_not_used_and_a_scale_is_corrected_for_its_bias():
    readings = (
        WeightReading(id="a", age_d=5.0, weight_g=3150, scale="old"),
        WeightReading(id="b", age_d=9.0, weight_g=3300),
        WeightReading(id="c", age_d=4.0, weight_g=3400, clothing="clothed"),
    )
    known = Evidence(
        now_d=6.0, weights=readings, scales=(Scale(name="old", bias_g=50.0, bias_sd_g=20.0),)
    )
    found = weighed_of(known, GROWTH)
    assert found.weight_g.tolist() == [[3100.0, 3400.0]]
    assert found.extra_noise_g is not None
    assert found.extra_noise_g.tolist() == [[20.0, GROWTH.clothed_sd_g]]


def test_an_infant_without_weights_can_still_be_forecast():
    nothing = Evidence(now_d=2.0)
    pooled = combine(nothing, fan([3200, 3300, 3400], 400.0), GROWTH)
    assert np.isfinite(np.array(pooled.weight_g)).all()


def test_the_regain_is_where_the_pooled_fan_crosses_birth_weight():
    slow = (
        WeightReading(id="a", age_d=4.0, weight_g=3080, clothing="naked", scale="clinic"),
        WeightReading(id="b", age_d=8.0, weight_g=3120, clothing="naked", scale="clinic"),
    )
    asked = msgspec.structs.replace(STRUGGLING, now_d=8.0, birth_weight_g=3300, weights=slow)
    own = answer(asked, POPULATION, QUESTION, 1)
    told = with_growth(asked, own, GROWTH)
    assert told.forecast != own.forecast
    regain = told.regain_age_d
    ages, median = told.forecast.age_d, np.array(told.forecast.weight_g)[:, 3]
    assert np.interp(regain.median, ages, median) == pytest.approx(3300, abs=3)
    ends = [regain.low_95, regain.low_80, regain.low_50, regain.median]
    ends += [regain.high_50, regain.high_80, regain.high_95]
    assert ends == sorted(ends)
    assert ages[0] <= ends[0]
    assert ends[-1] <= ages[-1]


def test_a_regain_that_is_behind_stays_the_engines():
    told = with_growth(THRIVING, own := answer(THRIVING, POPULATION, QUESTION, 1), GROWTH)
    assert told.regain_age_d == own.regain_age_d
    assert told.regain_age_d.median < THRIVING.now_d


def test_a_fan_that_hardly_comes_back_to_birth_weight_has_no_age_of_regain():
    told = answer(THRIVING, POPULATION, QUESTION, 5)
    low = msgspec.structs.replace(told, forecast=fan([2000.0, 2010.0, 2020.0], 30.0))
    assert _with_regain(low, 3400.0).regain_age_d is None
    back = msgspec.structs.replace(told, forecast=fan([3300.0, 3400.0, 3500.0], 30.0))
    regain = _with_regain(back, 3400.0).regain_age_d
    assert regain is not None
    assert regain.median == pytest.approx(AGES[1], abs=0.01)
    already = msgspec.structs.replace(told, forecast=fan([3400.0, 3500.0, 3600.0], 30.0))
    assert _with_regain(already, 3400.0) is already
