"""Invariances of loss, regain, gain and transfer."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from clinical_constants import constant
from suffice.clinical.milk.test_weight import TestWeightParameters, sum_of, transfer
from suffice.clinical.weight.change import (
    WeightChangeParameters,
    changes_percent,
    nadir,
    regain,
)
from suffice.clinical.weight.gain import (
    GainParameters,
    days_to_tell_apart,
    gain,
)
from suffice.clinical.weight.weighing import Weighing, WeightNoise

CHANGE = WeightChangeParameters(
    early_reference_h=constant(24, "h"),
    early_reference_window_h=constant(6, "h"),
    first_weight_late_h=constant(72, "h"),
    gap_late_h=constant(48, "h"),
)
GAIN = GainParameters(
    confidence_fraction=constant(0.9),
    slow_g_per_day=constant(15, "g/d"),
    brisk_g_per_day=constant(35, "g/d"),
)
WEIGHING = TestWeightParameters(
    evaporation_g_per_kg_per_h=constant(2.3, "g/kg/h"),
    milk_density_g_per_ml=constant(1.03, "g/mL"),
    careful_sd_g=constant(2.5, "g"),
    ward_sd_g=constant(7.2, "g"),
    level_fraction=constant(0.95),
)


def noise(sd_g=35.0):
    return WeightNoise(
        within_infant_sd_g=constant(sd_g, "g"),
        uncontrolled_sd_g=constant(2 * sd_g, "g"),
        scale_resolution_g=constant(5, "g"),
    )


weights_g = st.floats(600, 12000)
ages_h = st.floats(1, 800)
courses = st.lists(
    st.tuples(st.integers(1, 800), st.integers(2000, 5000)),
    min_size=2,
    max_size=8,
    unique_by=lambda pair: pair[0],
).map(sorted)


def series(course, birth_g=3400.0, shift_h=0.0, factor=1.0):
    return (
        Weighing(age_h=0, weight_g=birth_g * factor, is_birth=True),
        *(
            Weighing(age_h=age + shift_h, weight_g=weight * factor, scale="A")
            for age, weight in course
        ),
    )


@given(weights_g, weights_g, st.floats(0.1, 10))
def test_percent_change_does_not_depend_on_the_unit_of_weight(weight, reference, factor):
    plain = changes_percent(weight, reference)
    scaled = changes_percent(weight * factor, reference * factor)
    assert float(scaled) == pytest.approx(float(plain), abs=1e-9)


@given(weights_g, weights_g, st.floats(1, 500))
def test_a_heavier_weight_is_never_a_greater_loss(weight, reference, more_g):
    assert changes_percent(weight + more_g, reference) > changes_percent(weight, reference)


@given(courses)
def test_the_nadir_is_one_of_the_ages_and_inside_its_interval(course):
    figure = nadir(series(course), CHANGE)
    assert figure.value in [0.0, *(age for age, _ in course)]
    assert figure.low is None or figure.low < figure.value
    assert figure.high is None or figure.value < figure.high


@given(courses, st.randoms(use_true_random=False))
def test_the_order_of_weights_is_irrelevant(course, random):
    ordered = series(course)
    shuffled = list(ordered)
    random.shuffle(shuffled)
    assert nadir(shuffled, CHANGE) == nadir(ordered, CHANGE)
    assert regain(shuffled, CHANGE) == regain(ordered, CHANGE)


@given(courses)
def test_regain_lies_between_the_weights_that_show_it(course):
    found = regain(series(course), CHANGE)
    answers = [found.never_below, found.first_seen_h is not None, found.not_by_h is not None]
    assert answers.count(True) == 1
    if found.interpolated_h is not None:
        crossing = found.interpolated_h
        assert crossing.low < crossing.value <= crossing.high == found.first_seen_h


@given(courses, st.integers(1, 1500))
def test_a_lower_birth_weight_is_never_regained_later(course, less_g):
    high = regain(series(course), CHANGE)
    low = regain(series(course, birth_g=3400.0 - less_g), CHANGE)
    assume(high.first_seen_h is not None and low.first_seen_h is not None)
    assume(min(weight for _, weight in course[:1]) < 3400 - less_g)
    assert low.first_seen_h <= high.first_seen_h


@given(weights_g, weights_g, ages_h, st.floats(1, 800), st.floats(0, 5000))
def test_a_gain_does_not_depend_on_when_it_began(first, second, age, span, shift):
    def between(start):
        return gain(
            Weighing(age_h=start, weight_g=first, scale="A"),
            Weighing(age_h=start + span, weight_g=second, scale="A"),
            noise(),
            GAIN,
        )

    assert between(age).g_per_day.value == pytest.approx(
        between(age + shift).g_per_day.value, rel=1e-6, abs=1e-6
    )


@given(weights_g, weights_g, st.floats(1, 400))
def test_gain_is_antisymmetric_in_its_weights(first, second, span):
    def rates(one, other):
        found = gain(
            Weighing(age_h=10, weight_g=one),
            Weighing(age_h=10 + span, weight_g=other),
            noise(),
            GAIN,
        )
        return found.g_per_day.value, found.g_per_kg_per_day.value

    assert rates(first, second) == pytest.approx([-x for x in rates(second, first)], abs=1e-6)


@given(weights_g, weights_g, st.floats(1, 400), st.floats(1.01, 5))
def test_a_longer_interval_is_more_certain(first, second, span, factor):
    def se(hours):
        later = Weighing(age_h=10 + hours, weight_g=second)
        return gain(Weighing(age_h=10, weight_g=first), later, noise(), GAIN).se_g_per_day

    assert se(span * factor) < se(span)


@given(st.floats(1, 100), st.floats(1.01, 3))
def test_more_noise_needs_more_days(sd_g, factor):
    assert (
        days_to_tell_apart(noise(sd_g * factor), GAIN).value
        > days_to_tell_apart(noise(sd_g), GAIN).value
    )


@given(st.floats(1500, 9000), st.floats(-50, 200), st.floats(1, 60), st.floats(1, 60))
def test_a_longer_feed_puts_more_back(before, milk_g, minutes, more):
    def volume(length):
        return transfer(
            before, before + milk_g, WEIGHING, minutes=length, same_clothes=True
        ).volume_ml.value

    assert volume(minutes + more) > volume(minutes)


@given(st.lists(st.floats(-20, 150), min_size=1, max_size=12))
def test_a_sum_of_test_weights_is_surer_than_its_feeds_added(milk_g):
    feeds = [
        transfer(4000, 4000 + grams, WEIGHING, minutes=15, same_clothes=True) for grams in milk_g
    ]
    total = sum_of(feeds, WEIGHING)
    half = total.high - total.value
    assert half <= sum(one.volume_ml.high - one.volume_ml.value for one in feeds) + 1e-9
    assert half == pytest.approx(math.sqrt(len(feeds)) * 1.959963985 * 7.2 / 1.03, rel=1e-6)
