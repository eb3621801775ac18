"""A condition made ready: how it compares, and what it will not be asked of."""

from __future__ import annotations

from types import SimpleNamespace
from uuid import UUID

import msgspec
import pytest

from suffice.assess.rules.question import compares, first_asked, question_of
from suffice.assess.rules.table import Facts, Found, Measure, Sign
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


def test_a_find_is_one_of_its_answers_or_stands_to_its_limit_and_narrows_like_all_else():
    held = question(find="hold", answers=["tight", "loose"])
    long = question(find="minutes", compare=">=", limit="gain.limit")
    for asked, found, truth in (
        (held, None, Truth.CANNOT_TELL),
        (held, Found(("loose", "wet")), Truth.TRUE),
        (held, Found(("wet",)), Truth.FALSE),
        (long, Found(("loose",)), Truth.CANNOT_TELL),
        (long, Found(number=20.0), Truth.TRUE),
        (long, Found(number=19.9), Truth.FALSE),
    ):
        facts = Facts(finds={} if found is None else {asked.condition.find: found})
        verdict = asked.verdict(facts)
        assert asked.truth(facts) is verdict.truth is truth
        assert verdict.grounds[0].found == found
    at_home = question(find="hold", answers=["tight"], traits={"mode": ["vaginal"]})
    facts = Facts(finds={"hold": Found(("tight",))})
    assert at_home.truth(facts) is Truth.CANNOT_TELL
    assert (
        at_home.truth(msgspec.structs.replace(facts, traits={"mode": "caesarean"})) is Truth.FALSE
    )


def test_a_verdict_rests_on_the_entries_of_what_was_found():
    entry_id = UUID(int=7)
    facts = Facts(finds={"hold": Found(("tight",), None, "", (entry_id,))})
    either = question(any=[{"find": "hold", "answers": ["tight"]}, {"sign": "sleepy"}])
    assert either.verdict(facts).rests_on == (entry_id,)
    never = question(find="hold", answers=["loose"])
    assert never.verdict(facts).rests_on == ()
