from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from growth_constants import AGE
from spoken import text
from suffice.clinical.entry import Sex
from suffice.clinical.growth import assess, who
from suffice.clinical.growth.standard import Measure
from suffice.errors import InputError, RefusalError, SufficeError
from suffice.knowledge.tables import growth_standards

STANDARDS = growth_standards()
WHO = STANDARDS.who
NEWBORN = STANDARDS.intergrowth_newborn
POSTNATAL = STANDARDS.intergrowth_postnatal


def test_a_score_shows_its_formula_its_inputs_and_sourced_constants() -> None:
    figure = assess.weight_for_age(WHO, "male", 14, 3600)
    assert figure.value == pytest.approx(float(who.weight_for_age_z(WHO, True, 14, 3600)))
    assert [text(q.name) for q in figure.working.inputs] == ["weight", "age"]
    assert [c.key.rsplit(".", 1)[1] for c in figure.working.constants] == ["median", "cv", "skew"]
    for constant in figure.working.constants:
        assert "WHO Child Growth Standards" in constant.source
        assert str(constant.locator) == "boys, day 14"
        assert constant.basis == "published"


def test_the_working_alone_gives_the_score_again() -> None:
    figure = assess.weight_for_age(WHO, "female", 100, 5200)
    median, cv, skew = (constant.value for constant in figure.working.constants)
    assert ((5200 / median) ** skew - 1) / (skew * cv) == pytest.approx(figure.value)


def test_the_working_of_a_preterm_score_gives_it_again() -> None:
    figure = assess.postnatal_preterm(POSTNATAL, "weight", "female", 252, 2400)
    mean, sd = (constant.value for constant in figure.working.constants)
    assert (math.log(2400) - mean) / sd == pytest.approx(figure.value)
    assert {constant.unit for constant in figure.working.constants} == {"1"}
    head = assess.postnatal_preterm(POSTNATAL, "head", "male", 252, 33)
    mean, sd = (constant.value for constant in head.working.constants)
    assert (33 - mean) / sd == pytest.approx(head.value)
    assert {constant.unit for constant in head.working.constants} == {"cm"}


def test_a_centile_is_told_from_its_score_with_the_same_working() -> None:
    z = assess.length_for_age(WHO, "male", 0, 49.8842)
    centile = assess.centile(z)
    assert (centile.value, centile.unit) == (pytest.approx(50), "%")
    assert centile.working.constants == z.working.constants


def test_value_at_a_score_is_the_inverse_and_has_its_unit() -> None:
    weight = assess.value_for_age(WHO, "weight", "female", 30, -2)
    assert weight.unit == "g"
    assert assess.weight_for_age(WHO, "female", 30, weight.value).value == pytest.approx(-2)
    head = assess.value_for_age(WHO, "head", "female", 30, -2)
    assert head.unit == "cm"


def test_a_score_far_out_says_which_rule_and_that_the_measurement_wants_checking() -> None:
    near, far = (assess.weight_for_age(WHO, "male", 14, w).working.notes for w in (3600, 1200))
    assert not any("straight line" in text(note) for note in near)
    assert any("straight line" in text(note) for note in far)
    assert any(
        "checked" in text(note)
        for note in assess.weight_for_age(WHO, "male", 14, 500).working.notes
    )
    assert not any(
        "straight line" in text(n) for n in assess.head_for_age(WHO, "male", 14, 25).working.notes
    )


REFUSED = {
    "sex": ("GROWTH-001", lambda: assess.weight_for_age(WHO, None, 14, 3600)),
    "sex, by length": ("GROWTH-001", lambda: assess.weight_for_length(WHO, None, 50, 3600)),
    "sex, newborn": ("GROWTH-001", lambda: assess.newborn_size(NEWBORN, "head", None, 280, 34)),
    "sex, preterm": (
        "GROWTH-001",
        lambda: assess.postnatal_preterm(POSTNATAL, "head", None, 280, 34),
    ),
    "nan weight": ("GROWTH-002", lambda: assess.weight_for_age(WHO, "male", 14, float("nan"))),
    "no weight": ("GROWTH-002", lambda: assess.weight_for_age(WHO, "male", 14, 0)),
    "nan age": ("GROWTH-002", lambda: assess.weight_for_age(WHO, "male", float("nan"), 3600)),
    "negative head": ("GROWTH-002", lambda: assess.head_for_age(WHO, "male", 3, -34)),
    "nan z": ("GROWTH-002", lambda: assess.value_for_age(WHO, "weight", "male", 3, float("nan"))),
    "before birth": ("GROWTH-003", lambda: assess.weight_for_age(WHO, "male", -0.2, 3600)),
    "too old": ("GROWTH-003", lambda: assess.length_for_age(WHO, "male", 731, 90)),
    "too short": ("GROWTH-003", lambda: assess.weight_for_length(WHO, "male", 44.9, 2400)),
    "23 weeks": ("GROWTH-003", lambda: assess.newborn_size(NEWBORN, "weight", "male", 167, 600)),
    "43 weeks": ("GROWTH-003", lambda: assess.newborn_size(NEWBORN, "weight", "male", 301, 3900)),
    "26 weeks": (
        "GROWTH-003",
        lambda: assess.postnatal_preterm(POSTNATAL, "weight", "male", 188, 900),
    ),
    "length below 0": ("GROWTH-004", lambda: assess.value_for_age(WHO, "length", "male", 3, -40)),
    "weight below 0": ("GROWTH-004", lambda: assess.value_for_age(WHO, "weight", "male", 3, -9)),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_question_without_an_answer_is_refused_with_its_remedy(case: str) -> None:
    code, ask = REFUSED[case]
    with pytest.raises(SufficeError) as caught:
        ask()
    (problem,) = caught.value.problems
    assert problem.code == code
    assert problem.fix
    expected = InputError if code == "GROWTH-002" else RefusalError
    assert isinstance(caught.value, expected)


def test_a_34_week_infant_is_scored_on_the_preterm_standard_and_told_why() -> None:
    score = assess.for_infant(
        STANDARDS, AGE, "weight", "female", gestation_days=240, age_d=12, value=2350
    )
    assert score.choice.standard == "INTERGROWTH-21st postnatal"
    direct = assess.postnatal_preterm(POSTNATAL, "weight", "female", 252, 2350)
    assert score.z.value == direct.value
    assert score.z.working.notes[0] == score.choice.reason
    assert AGE.preterm_before_days in score.z.working.constants
    assert 0 < score.centile.value < 100


def test_an_age_before_birth_is_refused_whatever_the_gestation() -> None:
    for gestation_days in (240, 280, None):
        with pytest.raises(RefusalError, match="GROWTH-003"):
            assess.for_infant(
                STANDARDS,
                AGE,
                "weight",
                "male",
                gestation_days=gestation_days,
                age_d=-1,
                value=3000,
            )


@pytest.mark.parametrize(("gestation_days", "places"), [(200, 2), (260, 4)])
def test_size_at_birth_names_the_curve_of_its_gestation(gestation_days: int, places: int) -> None:
    figure = assess.newborn_size(NEWBORN, "weight", "male", gestation_days, 1500)
    assert len(figure.working.constants) == places
    assert str(figure.working.constants[0].locator).startswith("boys, ")


@pytest.mark.parametrize("gestation_days", [None, 200.0, 225.0, 258.0, 259.0, 280.0])
@pytest.mark.parametrize("age_d", [-1.0, 0.0, 12.4, 150.0, 400.0, 900.0])
@pytest.mark.parametrize(("sex", "value"), [("male", 4100.0), (None, 4100.0), ("female", -1.0)])
def test_the_bare_score_of_an_infant_is_that_of_the_figure_and_refused_as_that(
    gestation_days: float | None, age_d: float, sex: str | None, value: float
) -> None:
    asked = {"gestation_days": gestation_days, "age_d": age_d, "value": value}

    def bare_of_figure() -> object:
        whole = assess.for_infant(STANDARDS, AGE, "weight", sex, **asked)
        return whole.z.value, whole.choice.standard

    def bare() -> object:
        return assess.z_for_infant(STANDARDS, AGE, "weight", sex, **asked)

    def outcome(compute: Callable[[], object]) -> object:
        try:
            return compute()
        except SufficeError as refusal:
            return type(refusal), refusal.problems

    assert outcome(bare) == outcome(bare_of_figure)


@pytest.mark.parametrize("measure", ["weight", "length", "head"])
@pytest.mark.parametrize("value", [5e-324, 1e-300, 1e-5, 1e300, 1.7e308])
def test_every_value_above_zero_has_a_finite_score_for_age(measure: Measure, value: float) -> None:
    """So no score for age has to be refused for the size of the value; plausibility asks about it."""
    sexes: tuple[Sex, ...] = ("male", "female")
    for sex in sexes:
        for age_d in (0.0, 30.0, 730.0):
            assert math.isfinite(assess.for_age(WHO, measure, sex, age_d, value).value)
        for pma_d in (189.0, 300.0, 448.0):
            assert math.isfinite(
                assess.postnatal_preterm(POSTNATAL, measure, sex, pma_d, value).value
            )
