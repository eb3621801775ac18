"""A rise that no infant makes is asked about once: by the engine where it doubts the weight, else by the rules."""

from __future__ import annotations

import pytest

from plan_case import BIRTH, a_weight, asked
from suffice.assess.flags import LEAPS

WEIGHTS = (BIRTH, a_weight(3300, 3), a_weight(3450, 8), a_weight(3650, 14))


@pytest.mark.parametrize(("engine", "code"), [(True, "weight-looks-wrong"), (False, LEAPS)])
def test_it_is_asked_about_once(engine: bool, code: str) -> None:
    infant = asked(*WEIGHTS, a_weight(4830, 16), day=16.1, engine=engine).infant
    assert {LEAPS, "weight-looks-wrong"} & {one.code for one in infant.findings} == {code}


def test_the_rules_alone_call_nothing_enough_by_such_a_weight() -> None:
    infant = asked(*WEIGHTS, a_weight(4830, 16), day=16.1, engine=False).infant
    assert infant.verdict is not None
    assert infant.verdict.kind == "not known"
    usual = asked(*WEIGHTS, a_weight(3720, 16), day=16.1, engine=False).infant
    assert LEAPS not in {one.code for one in usual.findings}
