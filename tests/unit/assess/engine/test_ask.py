from suffice.assess.engine.ask import knows_no_intake
from suffice.inference.estimate import Question
from suffice.inference.evidence import Evidence, MilkGiven, TestWeighing, WeightReading
from suffice.inference.infant.answer import answer
from suffice.inference.infant.population import Population
from suffice.knowledge.store import load

VALUES = {key: one.value for key, one in load().constants("population").items()}


def told(**more):
    known = Evidence(now_d=9.0, birth_weight_g=3300, sex="female", gestation_days=280, **more)
    return answer(known, Population.from_constants(VALUES), Question.from_constants(VALUES), seed=1)


def test_without_anything_weighed_the_engine_speaks_of_the_population_only():
    assert knows_no_intake(told())
    given = (MilkGiven(id="m", age_d=8.9, volume_ml=30),)
    assert knows_no_intake(told(milk_given=given))


def test_a_weight_or_a_test_weight_speaks_of_this_infant():
    weight = (WeightReading(id="w", age_d=8.0, weight_g=3350),)
    assert not knows_no_intake(told(weights=weight))
    milk = (TestWeighing(id="t", age_d=8.9, transfer_g=60),)
    assert not knows_no_intake(told(test_weighings=milk))
