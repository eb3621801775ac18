import msgspec
import numpy as np
import pytest
from scipy.special import ndtri

from engine_setting import POPULATION, QUESTION, STRUGGLING, THRIVING
from suffice.inference.estimate import Forecast
from suffice.inference.evidence import Evidence, MilkGiven, Scale, TestWeighing, WeightReading
from suffice.inference.growth.blend import (
    _with_regain,
    changed_g,
    combine,
    growth_share,
    mixture_sd,
    weighed_of,
    weights_log_density,
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


def fan(mean_g: list[float], sd_g: float, given_ml: float = 0.0) -> Forecast:
    rows = np.array(mean_g)[:, None] + sd_g * ndtri(np.array(LEVELS))
    told = tuple(map(tuple, rows))
    return Forecast(
        age_d=AGES, levels=LEVELS, weight_g=told, reading_g=told, milk_given_ml_per_day=given_ml
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


@pytest.mark.parametrize(
    ("now_d", "for_growth", "least"),
    [(20.0, 0.0, 1.0), (20.0, -4.0, 0.12), (8.0, 0.0, 0.75), (4.0, 0.0, 0.37)],
    ids=["it has the age", "the weights speak for the other", "even", "before"],
)
def test_a_narrow_fan_makes_the_pooled_one_no_narrower_than_the_growth_prior_allows(
    now_d, for_growth, least
):
    at = msgspec.structs.replace(evidence(), now_d=now_d)
    found = forecast(GROWTH.prior, GROWTH.reference, weighed_of(at, GROWTH), np.array([AGES]))
    mean, sd = found.mean_g[0], found.sd_g[0]
    pooled = np.array(combine(at, fan(list(mean), 20.0), GROWTH, for_growth).weight_g)
    width = (pooled[:, 5] - pooled[:, 1]) / (2 * ndtri(0.9))
    np.testing.assert_allclose(np.minimum(width / sd, least), least, atol=0.02)
    if least == 1.0:
        np.testing.assert_allclose(width, sd, rtol=1e-6)


def test_the_growth_prior_counts_more_with_age_and_where_the_other_is_unsure():
    shares = [
        float(growth_share(GROWTH, age, np.array(80.0), np.array(100.0))) for age in (1, 8, 30)
    ]
    assert shares == sorted(shares)
    assert shares[0] < 0.1
    assert shares[2] > 0.75
    unsure = growth_share(GROWTH, GROWTH.even_age_d, np.array(200.0), np.array(100.0))
    assert unsure == pytest.approx(0.8)


def milk(*given: tuple[float, float]) -> tuple[MilkGiven, ...]:
    """Milk at some ages: days and mL."""
    return tuple(
        MilkGiven(id=f"m{n}", age_d=age, volume_ml=volume) for n, (age, volume) in enumerate(given)
    )


def half_width(told: Forecast) -> np.ndarray:
    rows = np.array(told.weight_g)
    return (rows[:, 5] - rows[:, 1]) / 2


def test_milk_given_no_longer_leaves_the_energy_model_alone():
    told = fan([3700, 3900, 4100], 90.0)
    plain = combine(evidence(), told, GROWTH)
    sip = combine(evidence(milk_given=milk((3.0, 20))), told, GROWTH)
    assert sip == plain


def test_milk_that_goes_on_as_before_the_last_weight_changes_nothing():
    every_day = milk(*((day + 0.5, 100) for day in range(3, 20)))
    told = fan([3700, 3900, 4100], 90.0, given_ml=100.0)
    assert changed_g(evidence(milk_given=every_day), told, GROWTH) == pytest.approx(0, abs=1e-9)


def test_milk_that_began_after_the_last_weight_weighs_what_its_energy_holds():
    asked = msgspec.structs.replace(
        evidence(), now_d=23.0, milk_given=milk((21.5, 200), (22.5, 200))
    )
    told = msgspec.structs.replace(fan([3700, 3900, 4100], 90.0, 200.0), age_d=(23.0, 24.0, 30.0))
    gram = 200 * 0.67 / 4.34
    assert changed_g(asked, told, GROWTH) == pytest.approx([2 * gram, 3 * gram, 9 * gram])


@pytest.mark.parametrize(
    ("given", "goes_on"),
    [
        (milk((21.5, 200), (22.5, 200)), 200.0),
        (milk(*((day + 0.5, 60) for day in range(3, 20)), (21.5, 200), (22.5, 200)), 200.0),
        (milk(*((day + 0.5, 200) for day in range(3, 20))), 0.0),
    ],
    ids=["began", "rose", "no longer written down"],
)
def test_a_change_of_milk_since_the_last_weight_widens_the_fan(given, goes_on):
    known = msgspec.structs.replace(evidence(), now_d=23.0)
    ages = (23.0, 24.0, 30.0)
    told = msgspec.structs.replace(fan([3700, 3900, 4100], 40.0, goes_on), age_d=ages)
    as_before = msgspec.structs.replace(told, milk_given_ml_per_day=0.0)
    without = half_width(combine(known, as_before, GROWTH))
    changed = half_width(combine(msgspec.structs.replace(known, milk_given=given), told, GROWTH))
    assert (changed > without).all()


def test_a_change_of_a_few_millilitres_hardly_widens_the_fan():
    """A steady supplement is never quite even from day to day."""
    known = msgspec.structs.replace(evidence(), now_d=23.0)
    told = msgspec.structs.replace(fan([3700, 3900, 4100], 40.0), age_d=(23.0, 24.0, 30.0))
    without = half_width(combine(known, told, GROWTH))
    drops = milk((20.5, 3), (21.5, 5))
    with_drops = half_width(combine(msgspec.structs.replace(known, milk_given=drops), told, GROWTH))
    assert (with_drops >= without).all()
    assert with_drops == pytest.approx(without, rel=0.02)


def test_milk_no_longer_written_down_lowers_the_fan_by_half_of_what_it_was():
    given = milk(*((day + 0.5, 200) for day in range(3, 20)))
    stopped = msgspec.structs.replace(evidence(), now_d=23.0, milk_given=given)
    told = msgspec.structs.replace(fan([3700, 3900, 4100], 40.0), age_d=(23.0, 24.0, 30.0))
    gone = changed_g(stopped, told, GROWTH)
    assert gone == pytest.approx(-200 * 0.67 / 4.34 * np.array([3, 4, 10]))


def test_where_a_whole_day_was_weighed_the_fans_are_pooled_all_the_same():
    told = fan([3700, 3900, 4100], 90.0)
    day = TestWeighing(id="t", age_d=14.0, transfer_g=600.0, feeds_count=8, whole_day=True)
    assert combine(evidence(test_weighings=(day,)), told, GROWTH) == combine(
        evidence(), told, GROWTH
    )


def test_what_a_scale_will_show_is_as_wide_as_the_truth_and_its_noise():
    pooled = combine(evidence(), fan([3700, 3900, 4100], 90.0), GROWTH)
    true, shown = np.array(pooled.weight_g), np.array(pooled.reading_g)
    assert shown[:, 3] == pytest.approx(true[:, 3])
    ages = np.array([AGES], dtype=np.float64)
    grown = forecast(GROWTH.prior, GROWTH.reference, weighed_of(evidence(), GROWTH), ages)
    noise = grown.noise_g[0]
    sd, read_sd = ((one[:, 5] - one[:, 1]) / 2.5631 for one in (true, shown))
    assert read_sd == pytest.approx(np.hypot(sd, noise), rel=1e-3)


@pytest.mark.parametrize("asked", [THRIVING, STRUGGLING])
def test_the_fan_starts_at_the_present_weight(asked):
    told = with_growth(asked, answer(asked, POPULATION, QUESTION, 1), GROWTH)
    now = told.present_weight
    ends = (now.low_95, now.low_80, now.low_50, now.median, now.high_50, now.high_80, now.high_95)
    assert told.forecast.age_d[0] == asked.now_d
    assert told.forecast.weight_g[0] == ends


def test_a_clothed_infant_is_as_heavy_as_the_naked_one():
    """What is worn is taken off: the fan no longer starts a shirt too high."""
    naked = evidence()
    dressed = msgspec.structs.replace(
        naked,
        weights=(
            *naked.weights[:1],
            WeightReading(id="a", age_d=20.0, weight_g=3700 + 220, clothing="clothed"),
        ),
    )
    fans = [
        with_growth(one, answer(one, POPULATION, QUESTION, 1), GROWTH).present_weight.median
        for one in (naked, dressed)
    ]
    assert fans[1] == pytest.approx(fans[0], abs=40)


@pytest.mark.parametrize(
    "unknown",
    [{"gestation_days": 255}, {"birth_weight_g": 2300.0}, {"multiple_count": 2}],
    ids=["preterm", "small", "twin"],
)
def test_whom_the_energy_model_does_not_know_gets_the_growth_priors_fan(unknown):
    asked = msgspec.structs.replace(evidence(), **unknown)
    grown = forecast(GROWTH.prior, GROWTH.reference, weighed_of(asked, GROWTH), np.array([AGES]))
    pooled = np.array(combine(asked, fan([3000, 3100, 3200], 40.0), GROWTH).weight_g)
    assert pooled[:, 3] == pytest.approx(grown.mean_g[0])
    assert (pooled[:, 5] - pooled[:, 1]) / 2.5631 == pytest.approx(grown.sd_g[0], rel=1e-4)


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
    assert found.weight_g.tolist() == [[3100.0, 3180.0]]
    assert found.extra_noise_g is not None
    assert found.extra_noise_g.tolist() == [[20.0, 90.0]]


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


def test_where_the_ages_leave_the_reference_the_estimate_stays_as_it_is():
    told = answer(evidence(), POPULATION, QUESTION, seed=1)
    last = float(GROWTH.reference.last_day)
    near = msgspec.structs.replace(told, forecast=fan([3700, 3900, 4100], 90.0))
    assert with_growth(evidence(), near, GROWTH) is not near
    late = msgspec.structs.replace(near.forecast, age_d=(*AGES[:2], last + 1))
    far = msgspec.structs.replace(near, forecast=late)
    assert with_growth(evidence(), far, GROWTH) is far


def test_the_weights_themselves_say_which_of_the_two_knows_the_infant():
    alike = np.array(100.0)
    even = GROWTH.even_age_d
    assert growth_share(GROWTH, even, alike, alike) == pytest.approx(0.5)
    assert growth_share(GROWTH, even, alike, alike, np.log(3)) == pytest.approx(0.75)
    assert growth_share(GROWTH, even, alike, alike, -np.log(3)) == pytest.approx(0.25)
    most = growth_share(GROWTH, even, alike, alike, GROWTH.most_log_ratio)
    assert growth_share(GROWTH, even, alike, alike, 99.0) == most < 1


def test_a_fan_follows_the_model_that_finds_the_weights_likelier():
    mean, sd = grown()
    away = fan(list(mean + 200), float(sd[1]))
    medians = [combine(evidence(), away, GROWTH, ratio).weight_g[1][3] for ratio in (-3, 0, 3)]
    assert medians == sorted(medians, reverse=True)
    assert medians[0] - medians[2] > 20


def test_both_densities_stand_beside_the_pooled_answer():
    own = answer(THRIVING, POPULATION, QUESTION, 1)
    assert own.diagnostics.growth_log_density is None
    told = with_growth(THRIVING, own, GROWTH).diagnostics
    assert told.weights_log_density == own.diagnostics.weights_log_density
    assert told.growth_log_density == weights_log_density(THRIVING, GROWTH)


@pytest.mark.parametrize("birth_weight_g", [3400.0, None])
def test_the_growth_priors_density_of_a_weight_is_one(birth_weight_g):
    """Over every weight that might be shown; 10 kg slips, one in a thousand, lie on both sides of it."""
    step = 25.0
    each = []
    for grams in np.arange(step, 9000.0, step):
        one = (WeightReading(id="a", age_d=9.0, weight_g=float(grams)),)
        asked = Evidence(now_d=9.0, birth_weight_g=birth_weight_g, sex="male", weights=one)
        each.append(np.exp(weights_log_density(asked, GROWTH)))
    assert step * np.sum(each) == pytest.approx(1.0, abs=2e-3)


def test_without_a_weight_nothing_speaks_for_either():
    nothing = Evidence(now_d=2.0, birth_weight_g=3300.0)
    assert weights_log_density(nothing, GROWTH) == 0.0


def test_a_typing_error_says_little_for_either():
    typed = msgspec.structs.replace(
        evidence(), weights=(*evidence().weights, WeightReading(id="c", age_d=15.0, weight_g=350))
    )
    lost = weights_log_density(evidence(), GROWTH) - weights_log_density(typed, GROWTH)
    assert 10 < lost < 25


def test_a_mixture_is_as_wide_as_its_draws():
    rng = np.random.default_rng(2)
    for share, apart, sd, other in ((0.3, 150.0, 80.0, 120.0), (0.9, -400.0, 60.0, 200.0)):
        pick = rng.random(400_000) < share
        normal = rng.normal(size=len(pick))
        draws = np.where(pick, apart + sd * normal, other * normal)
        low, high = np.quantile(draws, [0.1, 0.9])
        found = mixture_sd(*(np.array([one]) for one in (share, apart, sd, other)))[0]
        assert found == pytest.approx((high - low) / 2.5631, rel=0.01)


def test_a_mixture_of_one_is_that_one():
    ends = [np.array([1.0, 0.0]), np.array([300.0, 300.0]), np.array([90.0, 90.0])]
    assert mixture_sd(*ends, np.array([40.0, 40.0])) == pytest.approx([90.0, 40.0], rel=1e-6)
