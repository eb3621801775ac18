"""The fan that a page shows is the pooled one; everything else is the engine's own answer."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import numpy as np

from people import BORN_AT, an_entry, an_id
from suffice.assess.assessment import assess
from suffice.assess.case import case_of
from suffice.assess.engine.ask import seed_of
from suffice.assess.engine.evidence import evidence_of
from suffice.clinical.entry import Birth, Feed, Infant, Record, Weight, about
from suffice.inference.estimate import Question
from suffice.inference.growth.blend import weighed_of
from suffice.inference.growth.forecast import forecast
from suffice.inference.infant.answer import answer
from suffice.inference.infant.population import Population
from suffice.knowledge.growth_forecast import growth_of
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

INFANT = Infant(id=an_id("infant"), position=1)
NOW = BORN_AT + timedelta(days=20)
POLICY = Policy(zone="UTC")
GROWTH = growth_of(load())


def record(*, formula: bool = False) -> Record:
    birth = Birth(zone="UTC", sex="female", gestation_days=278, birth_weight_g=3400, mode="vaginal")
    facts = [("birth", birth, 0.0)]
    facts += [
        (f"w{d}", Weight(weight_g=w), 24.0 * d) for d, w in ((3, 3180), (10, 3350), (20, 3550))
    ]
    if formula:
        facts.append(("feed", Feed(milk="formula", volume_ml=60), 24.0 * 19.5))
    entries = tuple(an_entry(n, fact, infant=INFANT, at_h=at) for n, fact, at in facts)
    return Record(family_id=an_id("family"), infants=(INFANT,), entries=entries)


def told(one: Record):
    """The assessment's estimate, the engine's own, and the growth prior's medians."""
    found = assess(one, NOW, load(), POLICY).infants[0].estimate
    entries = about(one.entries_at(NOW), INFANT.id)
    case = case_of(INFANT, "A", entries, as_of=NOW, content=load(), policy=POLICY)
    evidence = evidence_of(case)
    assert found is not None
    assert evidence is not None
    values = {key: c.value for key, c in load().flat.items()}
    population, question = Population.from_constants(values), Question.from_constants(values)
    question = msgspec.structs.replace(
        question,
        gain_limit_g_per_day=found.question.gain_limit_g_per_day,
        requirement_gain_g_per_day=found.question.requirement_gain_g_per_day,
    )
    own = answer(evidence, population, question, seed=seed_of(evidence))
    ages = np.array([own.forecast.age_d])
    grown = forecast(GROWTH.prior, GROWTH.reference, weighed_of(evidence, GROWTH), ages)
    return found, own, grown.mean_g[0]


def test_the_fan_lies_between_the_energy_model_and_the_growth_prior():
    found, own, grown = told(record())
    energy = np.array(own.forecast.weight_g)[:, 3]
    pooled = np.array(found.forecast.weight_g)[:, 3]
    assert (pooled >= np.minimum(energy, grown)).all()
    assert (pooled <= np.maximum(energy, grown)).all()
    assert abs(pooled - energy).max() > 1


def test_everything_but_fan_present_weight_and_regain_is_the_engines_own():
    for formula in (False, True):
        found, own, _ = told(record(formula=formula))
        put_back = {
            "forecast": own.forecast,
            "regain_age_d": own.regain_age_d,
            "present_weight": own.present_weight,
            "diagnostics": own.diagnostics,
        }
        assert msgspec.structs.replace(found, **put_back) == own
        assert found.forecast != own.forecast
