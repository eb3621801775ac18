"""Problems as content: ages of codes, and what counts as a row and a condition."""

from __future__ import annotations

import pytest

from suffice.knowledge.problem import Code
from suffice.knowledge.store import load

GUIDE = load().guide


@pytest.mark.parametrize(
    ("code", "age_d", "fits"),
    [
        (Code(code="P92.5", until_d=28), 27.9, True),
        (Code(code="P92.5", until_d=28), 28, False),
        (Code(code="R63.39", from_d=28), 28, True),
        (Code(code="R63.39", from_d=28), 27.9, False),
        (Code(code="R63.39", from_d=28), None, False),
        (Code(code="O92.4"), None, True),
        (Code(code="O92.4"), 3, True),
    ],
)
def test_a_code_is_for_an_age(code: Code, age_d: float | None, fits: bool) -> None:
    assert code.is_for(age_d) is fits


def test_rows_and_conditions_leave_nothing_out() -> None:
    one = GUIDE.problems["mastitis_inflammatory"]
    rows = len(one.statements) + len(one.hand_over) + len(one.disputes) + 2
    assert len(list(one.rows())) == rows
    assert len(list(one.conditions())) == len(one.statements) + len(one.hand_over) + 1
    feared = GUIDE.problems["low_mood"]
    assert {"cannot_go_on is yes or worry is panic"} <= set(feared.conditions())
