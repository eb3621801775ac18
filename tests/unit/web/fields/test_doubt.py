"""A doubt is answered together with the very words that raised it."""

from __future__ import annotations

from suffice.errors import Problem
from suffice.web.fields.doubt import confirmation, token


def a_problem(what: str) -> Problem:
    return Problem(code="WEIGHT-001", what=what, why="is far.", fix="Confirm it.", doubtful=True)


def test_answer_is_bound_to_field_code_and_value() -> None:
    first = confirmation("weight", "weight", a_problem("4100 g"), "Yes").answers[0].token
    assert first == confirmation("weight", "weight", a_problem("4100 g"), "Yes").answers[0].token
    assert first != confirmation("weight", "weight", a_problem("4400 g"), "Yes").answers[0].token
    assert first != confirmation("before", "before", a_problem("4100 g"), "Yes").answers[0].token


def test_parts_of_a_token_do_not_run_together() -> None:
    assert token("ab", "c") != token("a", "bc")
