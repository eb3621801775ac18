"""The engine's setting in tests: the population and the question of the content store."""

from __future__ import annotations

from suffice.inference.estimate import Question
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.infant.population import Population
from suffice.knowledge.store import load

CONSTANTS = {key: constant.value for key, constant in load().flat.items()}
POPULATION = Population.from_constants(CONSTANTS)
QUESTION = Question.from_constants(CONSTANTS)


def weights(*pairs, clothing="naked", scale="clinic"):
    return tuple(
        WeightReading(id=f"w{k}", age_d=age, weight_g=grams, clothing=clothing, scale=scale)
        for k, (age, grams) in enumerate(pairs)
    )


THRIVING = Evidence(
    now_d=10.0,
    birth_weight_g=3400.0,
    birth_scale="clinic",
    sex="female",
    gestation_days=280,
    mode="vaginal",
    multiple_count=1,
    weights=weights((1.0, 3260.0), (3.0, 3170.0), (6.0, 3290.0), (10.0, 3450.0)),
)
"""A term girl who lost 7 % and is back above birth weight on day 10."""

STRUGGLING = Evidence(
    now_d=10.0,
    birth_weight_g=3400.0,
    birth_scale="clinic",
    sex="female",
    gestation_days=280,
    mode="vaginal",
    multiple_count=1,
    weights=weights((1.0, 3240.0), (3.0, 3080.0), (6.0, 3060.0), (10.0, 3090.0)),
)
"""A term girl who lost 10 % and hardly gains."""
