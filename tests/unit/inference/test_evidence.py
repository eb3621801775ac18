"""What the engine may be told: each reading at the edge of what can be used, and what is not known."""

from __future__ import annotations

import math

import pytest

from spoken import text
from suffice.errors import InputError
from suffice.inference.evidence import (
    DIAPERS,
    DiaperCount,
    Evidence,
    MilkGiven,
    Scale,
    TestWeighing,
    WeightReading,
)

PARTS = {
    Scale: {"name": "s"},
    WeightReading: {"id": "w", "age_d": 3.0, "weight_g": 3200.0},
    TestWeighing: {"id": "t", "age_d": 3.0, "transfer_g": 40.0},
    MilkGiven: {"id": "m", "age_d": 3.0, "volume_ml": 30.0},
    DiaperCount: {"id": "d", "kind": "wet", "age_d": 3.0, "count": 3},
    Evidence: {"now_d": 3.0},
}
CODES = {
    Scale: "INFER-101",
    WeightReading: "INFER-102",
    TestWeighing: "INFER-103",
    MilkGiven: "INFER-104",
    DiaperCount: "INFER-105",
    Evidence: "INFER-106",
}


def made(of, **more):
    return of(**{**PARTS[of], **more})


@pytest.mark.parametrize(
    ("kind", "field", "value"),
    [
        (Scale, "bias_g", -40.0),  # a scale that reads too low
        (Scale, "bias_sd_g", 0.0),
        (Scale, "precision_sd_g", 0.0),
        (Scale, "resolution_g", 0.0),
        (WeightReading, "age_d", 0.0),
        (WeightReading, "weight_g", 0.1),
        (TestWeighing, "age_d", 0.0),
        (TestWeighing, "transfer_g", -15.0),  # an honest result of a noisy scale
        (TestWeighing, "feeds_count", 1),
        (TestWeighing, "precision_sd_g", 0.0),
        (MilkGiven, "age_d", 0.0),
        (MilkGiven, "volume_ml", 0.0),
        (MilkGiven, "kcal_per_ml", 0.0),
        (DiaperCount, "age_d", 0.0),
        (DiaperCount, "count", 0),
        (DiaperCount, "span_d", 0.01),
        (Evidence, "now_d", 0.0),
        (Evidence, "birth_weight_g", 0.1),
        (Evidence, "feeds_per_day", 0.1),
        (Evidence, "intrapartum_fluids_ml", 0.0),
    ],
)
def test_the_least_that_can_be_used_is_used(kind, field, value):
    assert getattr(made(kind, **{field: value}), field) == value


@pytest.mark.parametrize(
    ("kind", "field", "value"),
    [
        (Scale, "bias_sd_g", -0.1),
        (Scale, "precision_sd_g", -0.1),
        (Scale, "resolution_g", -0.1),
        (WeightReading, "age_d", -0.01),
        (WeightReading, "weight_g", 0.0),
        (TestWeighing, "age_d", -0.01),
        (TestWeighing, "feeds_count", 0),
        (TestWeighing, "precision_sd_g", -0.1),
        (MilkGiven, "age_d", -0.01),
        (MilkGiven, "volume_ml", -0.1),
        (MilkGiven, "kcal_per_ml", -0.1),
        (DiaperCount, "age_d", -0.01),
        (DiaperCount, "count", -1),
        (DiaperCount, "span_d", 0.0),
        (Evidence, "now_d", -0.01),
        (Evidence, "birth_weight_g", 0.0),
        (Evidence, "feeds_per_day", 0.0),
    ],
)
def test_less_than_that_is_refused_with_its_code(kind, field, value):
    with pytest.raises(InputError) as refused:
        made(kind, **{field: value})
    (problem,) = refused.value.problems
    assert problem.code == CODES[kind]
    assert text(problem.what)
    assert text(problem.fix) == "Correct or leave out this reading."


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(
    ("kind", "field"),
    [
        (Scale, "bias_g"),
        (Scale, "bias_sd_g"),
        (Scale, "precision_sd_g"),
        (Scale, "resolution_g"),
        (WeightReading, "age_d"),
        (WeightReading, "weight_g"),
        (TestWeighing, "age_d"),
        (TestWeighing, "transfer_g"),
        (TestWeighing, "precision_sd_g"),
        (MilkGiven, "age_d"),
        (MilkGiven, "volume_ml"),
        (MilkGiven, "kcal_per_ml"),
        (DiaperCount, "age_d"),
        (DiaperCount, "span_d"),
        (Evidence, "now_d"),
        (Evidence, "birth_weight_g"),
        (Evidence, "intrapartum_fluids_ml"),
        (Evidence, "feeds_per_day"),
    ],
)
def test_what_is_no_finite_number_is_refused_wherever_it_stands(kind, field, value):
    with pytest.raises(InputError, match=CODES[kind]):
        made(kind, **{field: value})


@pytest.mark.parametrize("kind", DIAPERS)
def test_a_refused_count_names_its_kind_and_span(kind):
    with pytest.raises(InputError) as refused:
        made(DiaperCount, kind=kind, count=-2, span_d=0.5)
    assert (
        text(refused.value.problems[0].what) == f"-2 {kind} diapers over 0.5 days cannot be used."
    )


def test_refused_evidence_names_what_it_was_given():
    with pytest.raises(InputError) as refused:
        made(Evidence, birth_weight_g=-3400.0)
    assert "birth weight -3400.0 g" in text(refused.value.problems[0].what)


def test_what_nobody_told_is_not_known():
    bare = Evidence(now_d=3.0)
    names = set(Evidence.__struct_fields__) - {"now_d"}
    assert {name for name in names if getattr(bare, name) not in (None, ())} == set()


def test_a_reading_tells_no_more_than_was_told():
    assert (made(WeightReading).scale, made(WeightReading).clothing) == (None, None)
    assert made(Scale).bias_g == 0
    assert made(Scale).precision_sd_g is None
    assert (made(TestWeighing).feeds_count, made(TestWeighing).whole_day) == (1, False)
    assert made(MilkGiven).kcal_per_ml is None
    assert made(DiaperCount).span_d == 1.0
