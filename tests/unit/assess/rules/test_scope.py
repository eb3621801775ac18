"""Of whom a condition is asked: limits that go by age."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from suffice.assess.rules.scope import Scope
from suffice.assess.rules.table import Facts
from suffice.clinical.working import Constant

LIMIT = Constant(key="gain.limit", value=20.0, unit="g/d", basis="judgement", source="test")


@pytest.mark.parametrize(("age_h", "at_h"), [(200.0, 200.0), (None, 0.0)])
def test_a_limit_that_goes_by_age_is_that_of_the_age_in_question(age_h, at_h):
    ages = []
    limit = SimpleNamespace(at=lambda age: ages.append(age) or LIMIT)
    scope = Scope(limit, limit, limit, limit, {})
    scope.truth_at(Facts(gestation_days=280), age_h, age_h)
    assert ages == [at_h] * 4
    scope.at(Facts(gestation_days=280), age_h, age_h)
    assert set(ages) == {at_h}
