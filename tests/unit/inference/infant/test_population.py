"""The population from the constants of the content."""

from __future__ import annotations

from dataclasses import fields

import pytest

from engine_setting import CONSTANTS, POPULATION
from suffice.errors import ContentError
from suffice.inference.infant.population import Population

NAMES = [field.name for field in fields(Population)]


def test_every_field_is_the_constant_of_its_name():
    for field in fields(Population):
        assert getattr(POPULATION, field.name) == CONSTANTS[Population.key_of(field.name)]


def test_other_constants_are_not_read():
    assert Population.from_constants(CONSTANTS | {"population.nothing": 1.0}) == POPULATION


@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
@pytest.mark.parametrize("name", [*NAMES[:3], "displaced_fraction"])
def test_a_constant_that_is_missing_or_no_number_is_refused_by_name(name, value):
    key = Population.key_of(name)
    broken = {one: number for one, number in CONSTANTS.items() if one != key}
    if value is not None:
        broken[key] = value
    with pytest.raises(ContentError, match="INFER-201") as refused:
        Population.from_constants(broken)
    assert key in str(refused.value)
