"""The constants of the clinical functions, gathered from the content in force."""

from __future__ import annotations

from dataclasses import replace

import pytest

from suffice.assess.parameters import noise_at, parameters_of
from suffice.clinical.output import LeafletNorm, ObservedMedians, TaughtNorm
from suffice.errors import ContentError
from suffice.knowledge.store import load

CONTENT = load()


def test_each_value_is_that_of_the_content_with_its_source() -> None:
    found = parameters_of(CONTENT)
    assert found.noise.within_infant_sd_g == CONTENT.constant("weight_noise.within_infant_sd_g")
    assert found.older_from == CONTENT.constant("weight_noise.older_from_age_d")
    assert set(found.standards.who.by_age) == {"weight", "length", "head"}


def test_weights_of_older_infants_waver_by_a_value_of_their_own() -> None:
    older = parameters_of(CONTENT).older_noise
    assert older.within_infant_sd_g == CONTENT.constant("weight_noise.older_infant_sd_g")


@pytest.mark.parametrize(
    ("older_g", "uncontrolled_g", "expected_g"), [(90, 80, 90), (60, 80, 80), (80, 80, 80)]
)
def test_where_nothing_was_controlled_the_noise_is_never_the_smaller_one(
    older_g: float, uncontrolled_g: float, expected_g: float
) -> None:
    values = {
        "weight_noise.older_infant_sd_g": older_g,
        "weight_noise.uncontrolled_sd_g": uncontrolled_g,
    }
    older = parameters_of(CONTENT.with_overrides(values, force=True)).older_noise
    assert older.within_infant_sd_g.value == older_g
    assert older.uncontrolled_sd_g.value == expected_g


@pytest.mark.parametrize(
    ("topic", "norm"),
    [
        ("output_leaflet", LeafletNorm),
        ("output_taught", TaughtNorm),
        ("output_observed", ObservedMedians),
    ],
)
def test_each_norm_of_diapers_is_the_one_that_the_clinic_chose(topic: str, norm: type) -> None:
    wets = CONTENT.with_choices({"wets_norm": f"{topic}.wets_count_per_day"})
    stools = CONTENT.with_choices({"stools_norm": f"{topic}.stools_count_per_day"})
    assert type(parameters_of(wets).output_norms["wet"]) is norm
    assert type(parameters_of(stools).output_norms["stool"]) is norm
    assert type(parameters_of(wets).output_norms["stool"]) is LeafletNorm


def test_they_are_gathered_once_for_a_content() -> None:
    assert parameters_of(CONTENT) is parameters_of(CONTENT)


def test_a_constant_that_is_missing_is_named() -> None:
    key = "weight_noise.within_infant_sd_g"
    flat = {name: one for name, one in CONTENT.flat.items() if name != key}
    with pytest.raises(ContentError) as refused:
        parameters_of(replace(CONTENT, flat=flat))
    assert [problem.code for problem in refused.value.problems] == ["CONTENT-020"]
    assert key in str(refused.value)


def test_between_the_two_ages_the_noise_goes_from_one_value_to_the_other() -> None:
    found = parameters_of(CONTENT)
    start_h, whole_h = found.older_from.value * 24, found.older_whole_from.value * 24
    assert noise_at(found, start_h) is found.noise, "with its own source"
    assert noise_at(found, whole_h) is found.older_noise
    middle = noise_at(found, (start_h + whole_h) / 2)
    for name in ("within_infant_sd_g", "uncontrolled_sd_g"):
        ends = (getattr(found.noise, name).value, getattr(found.older_noise, name).value)
        assert getattr(middle, name).value == pytest.approx(sum(ends) / 2)
