"""Each pair of contradictions between rules and engine is joined by one sentence; no other pair has any."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from engine_setting import POPULATION, QUESTION, THRIVING
from people import BORN_AT, an_entry, an_id
from suffice.assess.assessment import assess
from suffice.assess.engine import agreement as joins
from suffice.assess.engine.agreement import agreement_of
from suffice.assess.results import Finding, Tier
from suffice.clinical.entry import Birth, Infant, Record, TestWeight, Weight
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Working
from suffice.inference.estimate import Caution
from suffice.inference.infant.answer import preview
from suffice.knowledge.policy import Policy
from suffice.knowledge.schema import COLOUR_OF
from unit.assess.review.reviewed import CONTENT

BASE = preview(THRIVING, POPULATION, QUESTION)
LIMIT = QUESTION.gain_limit_g_per_day
SHORT = CONTENT.constant("ranking.likely_short_fraction").value


def told(probability, **more):
    return msgspec.structs.replace(BASE, intake_short_probability=probability, **more)


def found(topic, level="consultant", code="a-code"):
    return Finding(code=code, level=level, colour=COLOUR_OF[level], topic=topic, messages=("It.",))


def gain(value):
    return Figure(value=value, unit="g/d", working=Working(formula="x"))


CALM = ((), (found("weight", "note"),), (found("not known", "look"),), (found("sign"),))


@pytest.mark.parametrize("findings", CALM)
@pytest.mark.parametrize(
    ("judged", "says"),
    [
        (gain(LIMIT + 10), joins.ABOVE_THE_LINE),
        (gain(LIMIT), joins.ABOVE_THE_LINE),
        (gain(LIMIT - 0.1), joins.NO_RULE_ASKS),
        (None, joins.NO_GAIN_YET),
    ],
)
def test_rules_that_are_calm_beside_a_short_intake_are_joined(findings, judged, says):
    assert agreement_of(findings, judged, told(SHORT), CONTENT) == says
    assert agreement_of(findings, judged, told(SHORT - 0.001), CONTENT) == ""


def test_weights_that_cannot_tell_are_joined_with_a_short_intake_only():
    untold = (found("gain", "look", "gain-cannot-tell"),)
    assert agreement_of(untold, None, told(SHORT), CONTENT) == joins.WEIGHTS_CANNOT_TELL
    assert agreement_of(untold, None, told(1 - SHORT), CONTENT) == ""


@pytest.mark.parametrize("level", ["emergency", "physician", "consultant", "look"])
@pytest.mark.parametrize(
    ("topic", "says"),
    [
        ("gain", joins.LOW_GAIN),
        ("weight", joins.STILL_TO_MAKE_UP),
        ("growth", joins.STILL_TO_MAKE_UP),
        ("combined", joins.STILL_TO_MAKE_UP),
        ("output", joins.COUNTED),
        ("feeding", joins.COUNTED),
    ],
)
def test_a_finding_beside_an_intake_that_looks_enough_is_joined(topic, says, level):
    findings = (found(topic, level),)
    enough = 1 - SHORT
    assert agreement_of(findings, None, told(enough), CONTENT) == says
    assert agreement_of(findings, None, told(enough + 0.001), CONTENT) == ""
    assert agreement_of(findings, None, told(SHORT), CONTENT) == ""


def test_of_several_findings_the_most_urgent_is_joined():
    findings = (found("sign"), found("output"), found("gain"))
    assert agreement_of(findings, None, told(0.1), CONTENT) == joins.COUNTED


def test_where_both_are_calm_or_the_engine_is_silent_nothing_is_joined():
    few = Caution(code="few-effective-draws", severity="caution", sentence="x")
    refused = Caution(code="x", severity="refusal", sentence="x")
    from_d = CONTENT.constant("ranking.likely_short_from_age_d").value
    assert agreement_of((), gain(40), told(0.1), CONTENT) == ""
    assert agreement_of((found("sign"),), gain(40), told(0.1), CONTENT) == ""
    assert agreement_of((), gain(40), None, CONTENT) == ""
    for silent in ({"cautions": (few,)}, {"cautions": (refused,)}, {"age_d": from_d - 0.1}):
        assert agreement_of((), gain(40), told(0.99, **silent), CONTENT) == ""
        assert agreement_of((found("weight"),), None, told(0.01, **silent), CONTENT) == ""


INFANT = Infant(id=an_id("girl"), position=1)
BIRTH = Birth(zone="UTC", sex="female", gestation_days=280, birth_weight_g=3400.0, mode="vaginal")


def assessed(at, weights, tests=()):
    entries = [an_entry("birth", BIRTH, infant=INFANT)]
    for day, grams in weights:
        fact = Weight(weight_g=grams, clothing="naked")
        entries.append(an_entry(f"w{day}", fact, infant=INFANT, at_h=HOURS_PER_DAY * day))
    for hour, grams in tests:
        fact = TestWeight(before_g=3600.0, after_g=3600.0 + grams, minutes=15, same_clothes=True)
        entries.append(an_entry(f"t{hour}", fact, infant=INFANT, at_h=hour))
    record = Record(family_id=an_id("family"), infants=(INFANT,), entries=tuple(entries))
    return assess(record, BORN_AT + timedelta(days=at), CONTENT, Policy(), engine=True)


def test_a_loss_that_stays_red_beside_an_intake_that_is_enough_now_says_why():
    """10.2 % below birth weight on day 12, gaining 29 g/day: a physician, and enough milk now."""
    family = assessed(12.1, ((5, 2850), (8, 2935), (12, 3053)))
    (infant,) = family.infants
    assert family.rank.tier <= Tier.TODAY
    assert infant.estimate.intake_short_probability < 1 - SHORT
    assert infant.agreement == joins.STILL_TO_MAKE_UP


def test_a_family_that_only_the_engine_finds_short_is_listed_with_the_sentence():
    """Some 18 g/day by the weights, which cannot tell, and eight weighed feeds of a day: 288 mL in all."""
    tests = tuple((34 * HOURS_PER_DAY - 3 * one, 36.0) for one in range(8))
    family = assessed(34.1, ((3, 3180), (14, 3480), (34, 3850)), tests)
    (infant,) = family.infants
    assert infant.estimate.intake_short_probability >= SHORT
    assert infant.agreement == joins.WEIGHTS_CANNOT_TELL
    assert infant.agreement in family.rank.reason
    assert family.rank.tier is Tier.WITHIN_A_DAY
