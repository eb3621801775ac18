"""A condition made ready: how it compares, and what it will not be asked of."""

from __future__ import annotations

from types import SimpleNamespace

import msgspec
import pytest

from suffice.assess.rules.question import Scope, compares, first_asked, question_of
from suffice.assess.rules.table import Facts, Measure, Sign
from suffice.assess.rules.truth import Truth
from suffice.clinical.working import Constant, Figure, Working
from suffice.knowledge.schema import Condition

LIMIT = Constant(key="gain.limit", value=20.0, unit="g/d", basis="judgement", source="test")
CONTENT = SimpleNamespace(series={}, disagreements={}, constant=lambda _key: LIMIT)
GAIN = Measure(
    value=12.0, age_h=200.0, figure=Figure(value=12.0, unit="g/d", working=Working(formula="given"))
)
SLEEPY = Sign(present=Truth.TRUE)


def question(**written):
    return question_of(msgspec.convert(written, Condition), CONTENT)


@pytest.mark.parametrize(
    ("compare", "expected"),
    [
        (">=", [False, True, True]),
        (">", [False, False, True]),
        ("<", [True, False, False]),
        ("<=", [True, True, False]),
        (None, [False, False, False]),
    ],
)
def test_a_value_is_compared_from_both_sides_and_at_the_limit(compare, expected):
    assert [compares(compare, value, 20.0) for value in (19.9, 20.0, 20.1)] == expected


def test_a_measure_is_no_sign_and_a_sign_no_measure():
    asked = question(measure="gain", compare="<", limit="gain.limit")
    assert asked.truth(Facts(measures={"gain": (GAIN,)}, age_h=200.0)) is Truth.TRUE
    with pytest.raises(TypeError, match="gain is no measure"):
        asked.truth(Facts(measures={"gain": (SLEEPY,)}, age_h=200.0))
    with pytest.raises(TypeError, match="sleepy is no sign"):
        question(sign="sleepy").truth(Facts(signs={"sleepy": (GAIN,)}, age_h=200.0))
    with pytest.raises(TypeError, match="gain is no measure"):
        asked.verdict(Facts(measures={"gain": (SLEEPY,)}, age_h=200.0))
    with pytest.raises(TypeError, match="sleepy is no sign"):
        question(sign="sleepy").verdict(Facts(signs={"sleepy": (GAIN,)}, age_h=200.0))


def test_of_several_facts_one_that_speaks_for_it_is_enough():
    asked = question(measure="gain", compare="<", limit="gain.limit")
    brisk = msgspec.structs.replace(GAIN, value=30.0)
    for facts, is_so in (((brisk, GAIN), Truth.TRUE), ((brisk, brisk), Truth.FALSE)):
        assert asked.truth(Facts(measures={"gain": facts}, age_h=200.0)) is is_so


def test_what_is_asked_first_is_the_first_measure_or_sign_that_is_not_an_opposite():
    asked = msgspec.convert(
        {"all": [{"not": {"sign": "well"}}, {"any": [{"sign": "sleepy"}, {"sign": "ill"}]}]},
        Condition,
    )
    assert first_asked(asked).sign == "sleepy"
    assert first_asked(msgspec.convert({"not": {"sign": "well"}}, Condition)) is None


@pytest.mark.parametrize(("age_h", "at_h"), [(200.0, 200.0), (None, 0.0)])
def test_a_limit_that_goes_by_age_is_that_of_the_age_in_question(age_h, at_h):
    ages = []
    limit = SimpleNamespace(at=lambda age: ages.append(age) or LIMIT)
    scope = Scope(limit, limit, limit, limit, {})
    scope.truth_at(Facts(gestation_days=280), age_h, age_h)
    assert ages == [at_h] * 4
    scope.at(Facts(gestation_days=280), age_h, age_h)
    assert set(ages) == {at_h}
