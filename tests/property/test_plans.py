"""Whatever the family, its plan keeps the rules, and so does its day on the clock.

A sample here; `make bench` asks five hundred families (`benchmarks/plans.py`).
"""

from __future__ import annotations

from functools import cache

import msgspec
import pytest

from plan_families import drawn_family
from plan_rules import Made, broken, day_of, made

SAMPLE = range(16)
WITH_DAY = (100, 103, 107)


@cache
def plans_of(seed: int) -> tuple[Made, ...]:
    return tuple(made(drawn_family(seed)))


@pytest.mark.parametrize("seed", SAMPLE)
def test_a_plan_keeps_every_rule(seed: int) -> None:
    for one in plans_of(seed):
        assert broken(one) == []


@pytest.mark.parametrize("seed", WITH_DAY)
def test_its_day_keeps_the_rules_of_the_plan_or_names_what_fights(seed: int) -> None:
    for one in plans_of(seed):
        found, faults = day_of(one)
        assert faults == []
        assert bool(found.acts) != bool(found.conflicts)


def test_the_sample_holds_what_the_rules_are_about() -> None:
    """Rules that nothing in the sample touches would hold of themselves."""
    every = [one for seed in SAMPLE for one in plans_of(seed)]
    assert any(one.proposal.plan.supplement_ml_per_day for one in every)
    assert any(one.proposal.plan.supplement_most_ml for one in every)
    assert any(one.proposal.step is not None for one in every)
    assert any(one.asked.suffices for one in every)
    assert any(found.colour == "red" for one in every for found in one.asked.infant.findings)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"supplement_ml": 1.0, "supplement_ml_per_day": 8.0, "supplement_feeds_count": 8}, ""),
        ({"supplement_ml_per_day": 9000.0}, "the day is not the sum of its feeds"),
        ({"supplement_ml_per_day": 0.0}, "no extra milk, and how to give it"),
        ({"milk": None}, "extra milk, and nobody says which or how"),
        ({"express_for": "relieve", "sessions_count": 8}, "for comfort only"),
        ({"gap_day_h": 4.0, "gap_night_h": 3.0}, "a shorter gap at night than by day"),
        ({"feeds_count": 4, "gap_day_h": 3.0, "gap_night_h": 3.0}, "so few feeds"),
    ],
)
def test_a_plan_that_breaks_a_rule_is_found(changed: dict[str, object], says: str) -> None:
    one = next(
        one for seed in SAMPLE for one in plans_of(seed) if one.proposal.plan.supplement_most_ml
    )
    plan = msgspec.structs.replace(one.proposal.plan, **changed)
    spoilt = one._replace(proposal=msgspec.structs.replace(one.proposal, plan=plan))
    found = broken(spoilt)
    assert found
    assert any(says in each for each in found)


@pytest.mark.parametrize("seed", SAMPLE)
def test_every_line_shows_its_working(seed: int) -> None:
    for one in plans_of(seed):
        bare = [line.part for line in one.proposal.lines if not line.workings]
        assert bare == []
