import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from clinical_constants import constant
from suffice.clinical.weight.gain import (
    GainParameters,
    days_to_tell_apart,
    gain,
    tells_apart,
)
from suffice.clinical.weight.weighing import (
    Weighing,
    WeightNoise,
    is_comparable,
    single_weight_se_g,
)
from suffice.errors import InputError

NOISE = WeightNoise(
    within_infant_sd_g=constant(35, "g"),
    uncontrolled_sd_g=constant(80, "g"),
    scale_resolution_g=constant(5, "g"),
)
PARAMETERS = GainParameters(
    confidence_fraction=constant(0.9),
    slow_g_per_day=constant(15, "g/d"),
    brisk_g_per_day=constant(35, "g/d"),
)


def weighed(day, weight_g, scale="A", clothing="naked"):
    return Weighing(age_h=day * 24, weight_g=weight_g, scale=scale, clothing=clothing)


def test_gain_per_day_with_its_standard_error():
    found = gain(weighed(5, 3200), weighed(9, 3300), NOISE, PARAMETERS)
    one = math.sqrt(35**2 + 25 / 12)
    assert found.g_per_day.value == 25
    assert found.se_g_per_day == pytest.approx(math.sqrt(2) * one / 4)
    half = 1.6448536269514722 * found.se_g_per_day
    assert found.g_per_day.low == pytest.approx(25 - half)
    assert found.g_per_day.high == pytest.approx(25 + half)


def test_gain_per_kilogram_is_the_logarithmic_rate():
    found = gain(weighed(5, 3000), weighed(15, 3300), NOISE, PARAMETERS)
    assert found.g_per_kg_per_day.value == pytest.approx(100 * math.log(1.1))
    one = math.sqrt(35**2 + 25 / 12)
    se = 100 * math.sqrt((one / 3000) ** 2 + (one / 3300) ** 2)
    assert found.se_g_per_kg_per_day == pytest.approx(se)
    assert found.g_per_kg_per_day.high == pytest.approx(100 * math.log(1.1) + 1.64485362695 * se)


def test_weights_not_taken_alike_get_the_wider_noise_and_say_so():
    alike = gain(weighed(5, 3200), weighed(9, 3300), NOISE, PARAMETERS)
    other = gain(weighed(5, 3200), weighed(9, 3300, scale="B"), NOISE, PARAMETERS)
    assert other.se_g_per_day > 2 * alike.se_g_per_day
    assert other.g_per_day.working.notes


@pytest.mark.parametrize(
    ("first", "second", "alike"),
    [
        (weighed(1, 1), weighed(2, 1), True),
        (weighed(1, 1, clothing=None), weighed(2, 1, clothing="dry diaper"), True),
        (weighed(1, 1), weighed(2, 1, clothing="clothed"), False),
        (weighed(1, 1, scale=None), weighed(2, 1, scale=None), False),
    ],
)
def test_when_two_weights_are_comparable(first, second, alike):
    assert is_comparable(first, second) is alike


def test_a_coarser_scale_makes_a_weight_less_certain():
    fine = single_weight_se_g(NOISE, resolution_g=2)
    coarse = single_weight_se_g(NOISE, resolution_g=100)
    assert fine.value == pytest.approx(math.sqrt(35**2 + 4 / 12))
    assert coarse.value == pytest.approx(math.sqrt(35**2 + 10000 / 12))


@pytest.mark.parametrize(
    ("first", "second", "code"),
    [
        (weighed(5, 3200), weighed(5, 3300), "GAIN-001"),
        (weighed(9, 3200), weighed(5, 3300), "GAIN-001"),
        (weighed(5, 0), weighed(9, 3300), "GAIN-002"),
        (weighed(5, float("nan")), weighed(9, 3300), "GAIN-002"),
    ],
)
def test_pairs_that_have_no_gain(first, second, code):
    with pytest.raises(InputError, match=code):
        gain(first, second, NOISE, PARAMETERS)


def test_any_weight_above_nothing_has_a_gain():
    found = gain(weighed(5, 0.5), weighed(9, 0.7), NOISE, PARAMETERS)
    assert found.g_per_day.value == pytest.approx(0.05)


def test_days_needed_follow_the_formula():
    needed = days_to_tell_apart(NOISE, PARAMETERS, resolution_g=5)
    se = math.sqrt(2) * math.sqrt(35**2 + 25 / 12)
    assert needed.value == pytest.approx(2 * 1.2815515655446004 * se / 20)


def test_two_weights_say_from_which_day_they_could_tell():
    born_at = datetime(2026, 3, 1, 10, 0, tzinfo=UTC)
    answer = tells_apart(weighed(2, 3200), weighed(3, 3220), NOISE, PARAMETERS)
    assert not answer.can
    assert answer.days_apart == pytest.approx(1)
    assert answer.from_age_h == pytest.approx(48 + 24 * answer.days_needed.value)
    # 2 x 1.28155 x sqrt(2) x 35.03 / 20 = 6.349 days after 3 March 10:00.
    assert answer.from_at(born_at) == pytest.approx(
        datetime(2026, 3, 9, 18, 22, tzinfo=UTC), abs=timedelta(minutes=1)
    )


def test_two_weights_far_enough_apart_can_tell():
    answer = tells_apart(weighed(2, 3200), weighed(9, 3420), NOISE, PARAMETERS)
    assert answer.can


def test_rates_in_the_wrong_order_are_refused():
    swapped = GainParameters(
        confidence_fraction=constant(0.9),
        slow_g_per_day=constant(35, "g/d"),
        brisk_g_per_day=constant(15, "g/d"),
    )
    with pytest.raises(InputError, match="GAIN-003"):
        tells_apart(weighed(2, 3200), weighed(3, 3220), NOISE, swapped)


def test_equal_rates_cannot_be_told_apart():
    same = GainParameters(
        confidence_fraction=constant(0.9),
        slow_g_per_day=constant(20, "g/d"),
        brisk_g_per_day=constant(20, "g/d"),
    )
    with pytest.raises(InputError, match="GAIN-003"):
        days_to_tell_apart(NOISE, same)


def test_at_the_days_needed_the_midpoint_errs_as_often_as_allowed():
    needed = days_to_tell_apart(NOISE, PARAMETERS, resolution_g=5).value
    random = np.random.default_rng(20260301)
    noise = random.normal(0, math.sqrt(35**2 + 25 / 12), (2, 200_000))
    measured = 15 + (noise[1] - noise[0]) / needed
    taken_for_brisk = float(np.mean(measured > 25))
    assert taken_for_brisk == pytest.approx(0.1, abs=0.003)
