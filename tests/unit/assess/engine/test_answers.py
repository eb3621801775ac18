"""Every number of the engine's answer: three intervals, a formula, what went in, constants, sources."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from functools import cache

import msgspec
import numpy as np
import pytest

from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.engine.answers import (
    EngineAnswer,
    engine_answers,
    forecast_ahead,
    forecast_working,
    moved_most,
)
from suffice.assess.engine.ask import speaks_of_intake
from suffice.assess.results import EngineFacts, InfantAssessment
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical.working import Working
from suffice.inference.estimate import Estimate
from suffice.knowledge.policy import Policy
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
def infants() -> tuple[InfantAssessment, ...]:
    """Every infant of the invented caseload about whom the engine was asked."""
    families = Families(scenario(), now=NOW, entered_by="consultant").records()
    found = [assess(record, NOW, CONTENT, Policy(zone="Europe/Madrid")) for record in families]
    return tuple(one for family in found for one in family.infants if one.estimate)


def estimates() -> tuple[Estimate, ...]:
    return tuple(one.estimate for one in infants())


def told(estimate: Estimate, facts: EngineFacts | None = None) -> dict[str, EngineAnswer]:
    if facts is None:
        facts = next(one.engine_facts for one in infants() if one.estimate is estimate)
    return {one.key: one for one in engine_answers(estimate, CONTENT, facts)}


def keys(working: Working) -> set[str]:
    return {one.key.removeprefix("population.") for one in working.constants}


def speaking() -> Estimate:
    """An answer that tells everything, the age at birth weight too."""
    return next(one for one in estimates() if {*OF_INTAKE, "regain_age_d"} <= told(one).keys())


def test_every_number_has_a_formula_inputs_and_constants_with_their_sources():
    answers = [one for estimate in estimates() for one in told(estimate).values()]
    assert len(answers) > 100
    for one in answers:
        assert one.working.formula
        assert one.working.inputs
        assert one.working.constants
        assert all(constant.source for constant in one.working.constants)
        keys = [constant.key for constant in one.working.constants]
        assert all(
            key.startswith("population.")
            or key in {"gain.first_days_g_per_day", "gain.look_fraction", "gain.expected_fraction"}
            for key in keys
        )


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
        assert any("or later" in in_sentences(note) for note in one.working.notes) is at_end


def test_an_age_at_birth_weight_is_told_only_while_it_lies_ahead():
    told_of = {True: 0, False: 0}
    for estimate in estimates():
        regain = estimate.regain_age_d
        if estimate.is_refused or regain is None:
            continue
        is_ahead = regain.median > estimate.age_d
        assert ("regain_age_d" in told(estimate)) is is_ahead
        told_of[is_ahead] += 1
    assert min(told_of.values()) > 0


def _end(one: EngineAnswer) -> float:
    return next(put.value for put in one.working.inputs if str(put.name) == "end of the forecast")


def test_least_difference_is_what_its_formula_makes_of_its_input():
    for estimate in estimates():
        one = told(estimate).get("least_difference_g")
        if one is not None:
            sd_g = one.working.inputs[0].value
            assert one.value == pytest.approx(1.96 * math.sqrt(2) * sd_g, rel=1e-4)


def test_a_clinics_own_value_is_named_where_the_engine_used_it():
    was = CONTENT.constant("population.tissue_cost").value
    own = CONTENT.with_overrides({"population.tissue_cost": was + 1}, force=True)
    estimate = next(one for one in estimates() if speaks_of_intake(one, CONTENT))
    requirement = next(
        one for one in engine_answers(estimate, own, EngineFacts()) if one.key == "requirement"
    )
    used = {one.key: one for one in requirement.working.constants}
    assert used["population.tissue_cost"].overridden_from == was
    assert used["gain.expected_fraction"].value == estimate.question.requirement_gain_g_per_day
    assert used["gain.expected_fraction"].unit == "g/d"


@pytest.mark.parametrize(
    ("facts", "used", "unused"),
    [
        (EngineFacts(mode="vaginal"), {"excess_vaginal"}, {"excess_caesarean", "fluids_much_ml"}),
        (
            EngineFacts(mode="assisted vaginal", fluids_ml=1000.0),
            {"excess_vaginal", "fluids_much_ml", "excess_few_fluids_log"},
            {"excess_caesarean", "excess_much_fluids_log"},
        ),
        (
            EngineFacts(mode="vaginal", fluids_ml=2600.0),
            {"excess_vaginal", "fluids_much_ml", "excess_much_fluids_log"},
            {"excess_caesarean", "excess_few_fluids_log"},
        ),
        (
            EngineFacts(mode="caesarean", fluids_ml=2600.0),
            {"excess_caesarean"},
            {"excess_vaginal", "fluids_much_ml", "excess_much_fluids_log"},
        ),
        (
            EngineFacts(),
            {"excess_vaginal", "excess_caesarean", "caesarean_fraction"},
            {"fluids_much_ml"},
        ),
    ],
)
def test_a_working_names_the_excess_of_the_infants_own_facts_only(facts, used, unused):
    """As `Birth.of` of the model takes them: fluids add to the excess, but not after a caesarean."""
    answers = told(speaking(), facts)
    for key in ("regain_age_d", "present_weight"):
        named = keys(answers[key].working)
        assert used <= named
        assert not unused & named
        inputs = {str(one.name): one.value for one in answers[key].working.inputs}
        assert inputs.get("fluids in labour") == (
            facts.fluids_ml if "fluids_much_ml" in used else None
        )


def test_the_onset_follows_the_mode_of_delivery_where_no_weight_is_placed_among_others():
    """After two weeks no loss_centile is told; the mode is known all the same."""
    late = [one for one in estimates() if one.loss_centile is None and "breast_intake" in told(one)]
    assert late
    for mode, other in (("vaginal", "caesarean"), ("caesarean", "vaginal")):
        named = keys(told(late[0], EngineFacts(mode=mode))["breast_intake"].working)
        assert f"onset_{mode}_d" in named
        assert f"onset_{other}_d" not in named


def test_milk_given_stands_among_what_went_in_with_its_energy():
    for count in (0, 3):
        facts = EngineFacts(mode="vaginal", milk_given_count=count)
        one = told(speaking(), facts)["share_of_requirement"]
        inputs = {str(each.name): each.value for each in one.working.inputs}
        assert inputs.get("feeds given as well as the breast", 0) == count
        assert ("given_milk_density" in keys(one.working)) is bool(count)
        breast = told(speaking(), facts)["breast_intake"].working.inputs
        named = [str(each.name) for each in breast]
        assert ("milk given in 24 h, as entered" in named) is bool(count)


def test_the_facts_are_those_of_the_record():
    facts = [one.engine_facts for one in infants()]
    assert {one.mode for one in facts} >= {"vaginal", "caesarean"}
    assert 2600.0 in {one.fluids_ml for one in facts}
    for one in infants():
        moved_by_milk = any(each.kind == "milk given" for each in one.estimate.influences)
        assert not moved_by_milk or one.engine_facts.milk_given_count > 0
    assert any(one.milk_given_count for one in facts)


def test_the_forecast_is_told_a_week_ahead_and_at_its_end():
    for estimate in estimates():
        ahead = forecast_ahead(estimate)
        assert [one.in_days for one in ahead] == ([] if estimate.is_refused else [7, 14])
        for one in ahead:
            row = estimate.forecast.reading_g[int(one.in_days)]
            assert (one.low_80_g, one.median_g, one.high_80_g) == (row[1], row[3], row[5])
    assert estimates()[0].forecast.levels[1:6:2] == (0.1, 0.5, 0.9)


def test_a_gain_whose_interval_says_nothing_is_not_told():
    estimate = speaking()
    expected = estimate.question.requirement_gain_g_per_day
    assert "gain" in told(estimate)
    for low, high, is_told in (
        (-5, 2 * expected + 5, False),
        (1, 2 * expected + 5, True),
        (-5, 2 * expected - 1, True),
    ):
        gain = msgspec.structs.replace(estimate.gain, low_80=float(low), high_80=float(high))
        found = told(msgspec.structs.replace(estimate, gain=gain), EngineFacts())
        assert ("gain" in found) is is_told
        assert "gain_below_limit_probability" in found


def test_the_forecast_names_what_pools_it_whatever_milk_is_given():
    pooling = {
        "forecast.blend_even_d",
        "forecast.blend_exponent",
        "forecast.blend_most_log_ratio",
    }
    estimate = speaking()
    pooled = forecast_working(estimate, CONTENT, EngineFacts(mode="vaginal"))
    assert pooling <= keys(pooled)
    odds = next(one.value for one in pooled.inputs if str(one.name).startswith("odds"))
    assert odds == pytest.approx((estimate.age_d / 8) ** 1.6)
    likelier = next(one.value for one in pooled.inputs if str(one.name).startswith("weights so"))
    drawn = estimate.diagnostics
    log_ratio = drawn.growth_log_density - drawn.weights_log_density
    assert likelier == pytest.approx(math.exp(np.clip(log_ratio, -4, 4)))
    alone = msgspec.structs.replace(drawn, growth_log_density=None)
    unpooled = msgspec.structs.replace(estimate, diagnostics=alone)
    assert len(forecast_working(unpooled, CONTENT, EngineFacts()).inputs) == len(pooled.inputs) - 1
    for facts in (EngineFacts(milk_given_count=1), EngineFacts(is_day_weighed=True)):
        assert pooling <= keys(forecast_working(estimate, CONTENT, facts))
    given = forecast_working(estimate, CONTENT, EngineFacts(milk_given_count=1))
    assert "forecast.displaced_fraction" in keys(given)
    assert "forecast.displaced_fraction" not in keys(pooled)


def test_every_working_can_be_said_in_spanish():
    workings = [one.working for estimate in estimates() for one in told(estimate).values()]
    workings += [
        forecast_working(estimate, CONTENT, facts)
        for estimate in estimates()
        for facts in (EngineFacts(), EngineFacts(fluids_ml=500.0, milk_given_count=1))
    ]
    texts = {
        (str(text), in_sentences(text, Policy(language="es")))
        for one in workings
        for text in (one.formula, *one.notes, *(put.name for put in one.inputs))
    }
    assert len(texts) > 20
    assert {english for english, spanish in texts if spanish.lower() == english.lower()} == set()


def test_the_engine_is_asked_about_the_limit_of_gain_that_the_red_rule_holds_at_that_age():
    """15 g a day in the first two weeks; then the 5th centile of WHO velocity for age and sex."""
    asked = {}
    for estimate in estimates():
        probability = told(estimate).get("gain_below_limit_probability")
        if probability is not None:
            limit_g_per_day = estimate.question.gain_limit_g_per_day
            asked.setdefault(estimate.age_d >= 14, set()).add(limit_g_per_day)
            assert probability.working.constants[0].value == limit_g_per_day
    assert asked[False] == {15}
    assert asked[True]
    assert all(limit_g_per_day < 25.1 for limit_g_per_day in asked[True])
    assert 20 not in asked[True]


def test_the_entries_that_moved_the_answer_most_come_first_whichever_way():
    estimate = max(estimates(), key=lambda one: len(one.influences))
    shifts = [abs(one.shift_sd) for one in estimate.influences]
    found = [abs(one.shift_sd) for one in moved_most(estimate)]
    assert len(shifts) > 5
    assert found == sorted(shifts, reverse=True)[:5]
