"""Which milk a supplement is and how it is given."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from plan_case import SLOW, WELL, an_infants, asked
from suffice.clinical.entry import Feed, Plan
from suffice.knowledge.store import load
from suffice.plan.given import method_of
from suffice.plan.known import known_of
from suffice.plan.parameters import plan_parameters
from suffice.plan.propose import propose

PARAMETERS = plan_parameters(load())


@pytest.mark.parametrize(
    ("problems", "ml", "method"),
    [
        ({"low_supply"}, 15, "tube"),
        ({"low_supply"}, 8, "cup"),
        ({"supply_glandular"}, 70, "tube"),
        ({"low_supply", "ineffective_suck"}, 15, "cup"),
        ({"low_supply", "pain_latch"}, 15, "cup"),
        ({"slow_gain"}, 15, "cup"),
    ],
)
def test_at_the_breast_through_a_tube_where_only_the_supply_is_the_problem(
    problems: set[str], ml: float, method: str
) -> None:
    found = replace(asked(*WELL, day=21.5, engine=False), problems=frozenset(problems))
    known = known_of(found, PARAMETERS)
    assert method_of(found, ml, known, PARAMETERS) == method
    assert method_of(found, ml, replace(known, at_breast=False), PARAMETERS) == "bottle"
    # Before its due date an infant born early may not have the suck for it.
    early = replace(known, gestation_days=247)
    assert method_of(found, ml, early, PARAMETERS) != "tube"


def test_formula_alone_is_not_called_own_milk_first() -> None:
    away = an_infants(
        "plan", Plan(move="first", at_breast="not now", supplement_ml_per_day=500), 18
    )
    fed = [an_infants(f"f{n}", Feed(milk="formula", volume_ml=70), 21 + n / 20) for n in range(8)]
    own = an_infants("own", Feed(milk="expressed", volume_ml=70), 21.45)
    found = propose(asked(*SLOW, away, *fed, day=21.5, engine=False)).plan
    assert (found.at_breast, found.milk, found.express_for) == ("not now", "formula", None)
    both = propose(asked(*SLOW, away, *fed, own, day=21.5, engine=False)).plan
    assert both.milk == "own, donor, formula"
