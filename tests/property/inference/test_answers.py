"""Whatever is entered: the answer is finite, ordered and does not depend on the order of entry."""

from __future__ import annotations

import math

import msgspec
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from engine_setting import POPULATION, QUESTION, THRIVING, weights
from suffice.inference.estimate import Estimate, Interval
from suffice.inference.evidence import (
    DiaperCount,
    Evidence,
    MilkGiven,
    Scale,
    TestWeighing,
    WeightReading,
)
from suffice.inference.infant.answer import answer, preview
from suffice.inference.infant.model import LATENTS_COUNT, Birth, Course
from sweeps import drawn

change = msgspec.structs.replace
ages = st.floats(0, 110)
names = st.sampled_from(["clinic", "home", None])


def several(one, most):
    return st.lists(one, max_size=most, unique_by=lambda reading: reading.id).map(tuple)


ids = st.integers(0, 99).map(str)
readings = st.builds(
    WeightReading,
    id=ids,
    age_d=ages,
    weight_g=st.floats(1, 30_000),
    scale=names,
    clothing=st.sampled_from(["naked", "dry diaper", "clothed", None]),
)
tests = st.builds(
    TestWeighing,
    id=ids,
    age_d=ages,
    transfer_g=st.floats(-500, 5000),
    feeds_count=st.integers(1, 30),
    whole_day=st.booleans(),
    precision_sd_g=st.none() | st.floats(0, 200),
)
milk = st.builds(
    MilkGiven,
    id=ids,
    age_d=ages,
    volume_ml=st.floats(0, 3000),
    milk=st.sampled_from(["expressed", "donor", "formula"]),
    kcal_per_ml=st.none() | st.floats(0, 2),
)
diapers = st.builds(
    DiaperCount,
    id=ids,
    kind=st.sampled_from(["wet", "stool"]),
    age_d=ages,
    count=st.integers(0, 60),
    span_d=st.floats(0.02, 20),
)
scales = st.builds(
    Scale,
    name=st.sampled_from(["clinic", "home"]),
    bias_g=st.floats(-500, 500),
    bias_sd_g=st.none() | st.floats(0, 300),
    precision_sd_g=st.none() | st.floats(0, 300),
    resolution_g=st.none() | st.floats(0, 200),
)
odd_evidence = st.builds(
    Evidence,
    now_d=ages,
    birth_weight_g=st.none() | st.floats(300, 8000),
    birth_scale=names,
    sex=st.sampled_from(["male", "female", None]),
    gestation_days=st.none() | st.integers(150, 320),
    mode=st.sampled_from(["vaginal", "assisted vaginal", "caesarean", None]),
    intrapartum_fluids_ml=st.none() | st.floats(0, 9000),
    multiple_count=st.none() | st.integers(1, 4),
    illness=st.none() | st.just("fever"),
    feeds_per_day=st.none() | st.floats(0.5, 40),
    weights=several(readings, 8),
    test_weighings=several(tests, 4),
    milk_given=several(milk, 6),
    diapers=several(diapers, 6),
    scales=st.lists(scales, max_size=2).map(tuple),
)


def numbers(value):
    if isinstance(value, dict):
        for inner in value.values():
            yield from numbers(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from numbers(inner)
    elif isinstance(value, float):
        yield value


def check(told: Estimate) -> None:
    assert all(math.isfinite(value) for value in numbers(msgspec.to_builtins(told)))
    for name in Estimate.__struct_fields__:
        value = getattr(told, name)
        if isinstance(value, Interval):
            ends = [value.low_95, value.low_80, value.low_50, value.median]
            ends += [value.high_50, value.high_80, value.high_95]
            assert ends == sorted(ends), name
        if name.endswith("_probability") and value is not None:
            assert 0 < value < 1
    assert told.breast_intake.low_95 >= 0
    assert all(list(row) == sorted(row) for row in told.forecast.weight_g)


@given(odd_evidence)
@settings(max_examples=drawn(150))
def test_no_odd_evidence_makes_a_number_that_is_none(evidence):
    check(preview(evidence, POPULATION, QUESTION))


@given(odd_evidence)
@settings(max_examples=25)
def test_nor_in_full(evidence):
    check(answer(evidence, POPULATION, QUESTION, 3))


@given(odd_evidence, st.randoms(use_true_random=False))
@settings(max_examples=25)
def test_the_order_of_entries_does_not_matter(evidence, random):
    def shuffled(entries):
        mixed = list(entries)
        random.shuffle(mixed)
        return tuple(mixed)

    fields = ("weights", "test_weighings", "milk_given", "diapers")
    other = change(evidence, **{name: shuffled(getattr(evidence, name)) for name in fields})
    one, two = (preview(each, POPULATION, QUESTION) for each in (evidence, other))
    assert msgspec.json.encode(one) == msgspec.json.encode(two)


@given(st.floats(2500, 4500), st.floats(0.95, 1.05))
@settings(max_examples=15)
def test_a_heavier_last_weight_raises_the_gain(birth_g, ratio):
    def gain(last_g):
        last = WeightReading(id="z", age_d=9.0, weight_g=last_g, scale="clinic", clothing="naked")
        evidence = change(THRIVING, birth_weight_g=birth_g, now_d=9.0, weights=(last,))
        return answer(evidence, POPULATION, QUESTION, 1).gain.median

    assert gain(birth_g * ratio + 120) > gain(birth_g * ratio)


@given(st.floats(10, 400))
@settings(max_examples=10)
def test_given_milk_adds_its_volume_to_the_total(volume_ml):
    milk_given = (MilkGiven(id="m", age_d=9.5, volume_ml=volume_ml),)
    told = preview(change(THRIVING, milk_given=milk_given), POPULATION, QUESTION)
    extra = told.total_intake.median - told.breast_intake.median
    assert math.isclose(extra, volume_ml, rel_tol=1e-9)


def weighed_infants(count: int) -> list[Evidence]:
    """Infants of the population itself, weighed every day to day 10 with the usual noise."""
    rng = np.random.default_rng(11)
    ages = np.arange(1.0, 11.0)
    course = Course(POPULATION, Birth(3400.0, 0.0, 0.0), ages, (), LATENTS_COUNT)
    z = rng.standard_normal((count, LATENTS_COUNT + course.knots_count))
    paths = course.paths(z)
    shown = 1000 * paths.birth_kg * paths.total
    shown = shown + POPULATION.noise_physiological_g * rng.standard_normal(shown.shape)
    return [
        change(THRIVING, weights=weights(*zip(ages.tolist(), row, strict=True)))
        for row in shown.tolist()
    ]


def test_more_good_evidence_does_not_widen_the_expected_interval():
    def mean_width(kept: tuple[int, ...]) -> tuple[float, float]:
        told = [
            preview(change(e, weights=tuple(e.weights[k] for k in kept)), POPULATION, QUESTION)
            for e in weighed_infants(40)
        ]
        return (
            sum(t.gain.high_80 - t.gain.low_80 for t in told) / len(told),
            sum(t.breast_intake.high_80 - t.breast_intake.low_80 for t in told) / len(told),
        )

    few, more, all_of_them = mean_width((9,)), mean_width((2, 5, 9)), mean_width(tuple(range(10)))
    assert few[0] > 1.15 * more[0] > 1.15 * 1.1 * all_of_them[0]
    assert few[1] > more[1] > 0.98 * all_of_them[1]
