"""The question from the content, and when an answer may be shown and trusted."""

from __future__ import annotations

import math

import msgspec
import pytest
from scipy.special import ndtri

from engine_setting import CONSTANTS, POPULATION, QUESTION, THRIVING
from suffice.inference.estimate import QUANTILE_95, WIDTH_80, Caution, Question
from suffice.inference.infant.answer import preview
from suffice.message import message

ANSWER = preview(THRIVING, POPULATION, QUESTION)


def caution(code: str, severity: str) -> Caution:
    return Caution(code=code, severity=severity, sentence=message("x"))


@pytest.mark.parametrize(("field", "key"), Question.KEYS.items())
def test_each_part_of_the_question_is_that_of_its_key_and_of_no_other(field, key):
    assert getattr(QUESTION, field) == CONSTANTS[key]
    moved = Question.from_constants({**CONSTANTS, key: CONSTANTS[key] + 1})
    unlike = {
        name
        for name in Question.__struct_fields__
        if getattr(moved, name) != getattr(QUESTION, name)
    }
    # Until the caller says what is expected, the requirement allows for the limit of gain.
    follows = {"requirement_gain_g_per_day"} if field == "gain_limit_g_per_day" else set()
    assert unlike == {field} | follows


def test_days_are_whole_and_rates_are_not():
    asked = Question.from_constants({key: CONSTANTS[key] + 0.75 for key in Question.KEYS.values()})
    assert (type(asked.horizon_d), asked.horizon_d) == (int, QUESTION.horizon_d)
    assert type(asked.weighing_days_max) is int
    assert asked.gain_limit_g_per_day == QUESTION.gain_limit_g_per_day + 0.75


@pytest.mark.parametrize("key", Question.KEYS.values())
def test_a_part_that_the_content_lacks_is_no_question(key):
    with pytest.raises(KeyError, match=key):
        Question.from_constants({name: one for name, one in CONSTANTS.items() if name != key})


def test_what_a_clinic_may_suppose_is_not_supposed_by_itself():
    assert QUESTION.requirement_ml_per_kg_per_day is None
    assert QUESTION.future_milk_given_ml_per_day is None


def test_the_quantiles_are_those_of_the_normal():
    assert pytest.approx(ndtri(0.975)) == QUANTILE_95
    assert pytest.approx(2 * ndtri(0.9)) == WIDTH_80
    assert math.isclose(QUANTILE_95, 1.96, abs_tol=1e-3)


@pytest.mark.parametrize(
    ("cautions", "is_refused", "is_reliable"),
    [
        ((), False, True),
        ((caution("noisy", "note"), caution("preterm", "caution")), False, True),
        ((caution("few-effective-draws", "caution"),), False, False),
        ((caution("preterm", "refusal"),), True, False),
        ((caution("noisy", "note"), caution("preterm", "refusal")), True, False),
    ],
)
def test_an_answer_is_refused_by_a_refusal_and_unreliable_by_few_draws_too(
    cautions, is_refused, is_reliable
):
    answer = msgspec.structs.replace(ANSWER, cautions=cautions)
    assert (answer.is_refused, answer.is_reliable) == (is_refused, is_reliable)


@pytest.mark.parametrize("name", ["breast_intake", "requirement", "present_weight", "gain"])
def test_wider_intervals_enclose_narrower_ones(name):
    found = getattr(ANSWER, name)
    marks = [found.low_95, found.low_80, found.low_50, found.median]
    assert marks == sorted(marks)
    marks = [found.median, found.high_50, found.high_80, found.high_95]
    assert marks == sorted(marks)
    assert found.low_95 < found.high_95


def test_an_answer_keeps_the_question_it_answers():
    assert ANSWER.question == QUESTION
    other = msgspec.structs.replace(QUESTION, gain_limit_g_per_day=5.0)
    assert preview(THRIVING, POPULATION, other).question == other
