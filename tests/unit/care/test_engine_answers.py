"""Every number of the engine's answer: three intervals, a formula, what went in, constants, sources."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from functools import cache

import pytest

from suffice.care.assessment import assess
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.care.engine import speaks_of_intake
from suffice.care.engine_answers import EngineAnswer, engine_answers
from suffice.care.language import reworded
from suffice.care.policy import Policy
from suffice.inference.estimate import Estimate
from suffice.knowledge.store import load

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
OF_INTAKE = {
    "total_intake",
    "breast_intake",
    "requirement",
    "share_of_requirement",
    "gain",
    "present_weight",
    "intake_short_probability",
    "gain_below_limit_probability",
}
CONTENT = load()


@cache
def estimates() -> tuple[Estimate, ...]:
    """The engine's answers for every infant of the invented caseload."""
    families = Families(scenario(), now=NOW, entered_by="consultant").records()
    found = [assess(record, NOW, CONTENT, Policy(zone="Europe/Madrid")) for record in families]
    return tuple(one.estimate for family in found for one in family.infants if one.estimate)


def told(estimate: Estimate) -> dict[str, EngineAnswer]:
    return {one.key: one for one in engine_answers(estimate, CONTENT)}


def test_every_number_has_a_formula_inputs_and_constants_with_their_sources():
    answers = [one for estimate in estimates() for one in told(estimate).values()]
    assert len(answers) > 100
    for one in answers:
        assert one.working.formula
        assert one.working.inputs
        assert one.working.constants
        assert all(constant.source for constant in one.working.constants)
        keys = [constant.key for constant in one.working.constants]
        assert all(key.startswith(("population.", "gain.limit_g_per_day")) for key in keys)


def test_every_interval_holds_its_median_and_widens_with_its_level():
    intervals = [
        one.interval for each in estimates() for one in told(each).values() if one.interval
    ]
    assert len(intervals) > 50
    for one in intervals:
        assert one.low_95 <= one.low_80 <= one.low_50 <= one.median
        assert one.median <= one.high_50 <= one.high_80 <= one.high_95


def test_intake_and_gain_are_told_only_where_the_answer_speaks_of_this_infant():
    kinds = {True: 0, False: 0}
    for estimate in estimates():
        speaks = speaks_of_intake(estimate, CONTENT)
        kinds[speaks] += 1
        assert (told(estimate).keys() >= OF_INTAKE) is speaks
        assert bool(OF_INTAKE & told(estimate).keys()) is speaks
    assert min(kinds.values()) > 0


def test_a_refused_answer_tells_no_number():
    refused = [one for one in estimates() if one.is_refused]
    assert refused
    assert [told(one) for one in refused] == [{}] * len(refused)


def test_birth_weight_not_back_by_a_day_is_asked_before_that_day_only():
    for estimate in estimates():
        asked = "not_regained_probability" in told(estimate)
        assert asked <= (estimate.age_d < estimate.question.regain_day)


def test_an_age_at_the_end_of_the_forecast_is_told_as_that_or_later():
    capped = [one for each in estimates() if (one := told(each).get("regain_age_d"))]
    assert capped
    for one in capped:
        at_end = one.interval.high_95 >= max(0.0, _end(one))
        assert (one.capped_at is not None) is at_end
        assert any("or later" in note for note in one.working.notes) is at_end


def _end(one: EngineAnswer) -> float:
    return next(put.value for put in one.working.inputs if put.name == "end of the forecast")


def test_least_difference_is_what_its_formula_makes_of_its_input():
    for estimate in estimates():
        one = told(estimate).get("least_difference_g")
        if one is not None:
            sd_g = one.working.inputs[0].value
            assert one.value == pytest.approx(1.96 * math.sqrt(2) * sd_g, rel=1e-4)


def test_a_clinics_own_value_is_named_where_the_engine_used_it():
    own = CONTENT.with_overrides({"population.question_requirement_gain": 25.0}, force=True)
    estimate = next(one for one in estimates() if speaks_of_intake(one, CONTENT))
    requirement = next(one for one in engine_answers(estimate, own) if one.key == "requirement")
    used = {one.key: one for one in requirement.working.constants}
    assert used["population.question_requirement_gain"].overridden_from == 20.0


def test_every_working_can_be_said_in_spanish():
    texts = {
        text
        for estimate in estimates()
        for one in told(estimate).values()
        for text in (one.working.formula, *one.working.notes, *(i.name for i in one.working.inputs))
    }
    assert len(texts) > 20
    assert {text for text in texts if reworded(text, "es") == text} == set()


def test_the_engine_is_asked_about_the_limit_of_gain_that_the_red_rule_holds_at_that_age():
    """15 g a day from day 5, 20 g a day from day 14: the series gain.limit_g_per_day."""
    asked = {}
    for estimate in estimates():
        probability = told(estimate).get("gain_below_limit_probability")
        if probability is not None:
            limit_g_per_day = estimate.question.gain_limit_g_per_day
            asked[estimate.age_d >= 14] = limit_g_per_day
            assert probability.working.constants[0].value == limit_g_per_day
    assert asked == {False: 15, True: 20}
