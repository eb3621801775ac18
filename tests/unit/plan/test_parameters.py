"""The values of a plan: each with its source; a set of the past has none."""

from __future__ import annotations

import dataclasses

import pytest

from suffice.errors import ContentError
from suffice.knowledge.store import load
from suffice.plan.parameters import PlanParameters, plan_parameters, production_parameters


def test_each_value_says_where_it_comes_from() -> None:
    for name in PlanParameters.__struct_fields__:
        one = getattr(plan_parameters(load()), name)
        for constant in getattr(one, "points", (one,)):
            assert constant.source, name


def test_the_band_leaves_room_and_steps_come_in_order() -> None:
    found = plan_parameters(load())
    assert found.band_low_fraction.value < 1 < found.band_high_fraction.value
    sizes = (found.step_large_ml_per_day, found.step_middle_ml_per_day, found.step_small_ml_per_day)
    assert sorted((one.value for one in sizes), reverse=True) == [one.value for one in sizes]


def test_a_set_of_the_past_without_plans_is_refused_by_name() -> None:
    now = load()
    then = dataclasses.replace(
        now,
        flat={
            k: v for k, v in now.flat.items() if k.partition(".")[0] not in {"plan", "production"}
        },
    )
    with pytest.raises(ContentError, match="CONTENT-020"):
        plan_parameters(then)
    with pytest.raises(ContentError, match="CONTENT-020"):
        production_parameters(then)
