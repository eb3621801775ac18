"""A small program in whole numbers: its answer, its bound, and what has none."""

from __future__ import annotations

from suffice.plan.program import Program


def knapsack() -> tuple[Program, dict[int, float]]:
    """Three things of which two fit: worth 5, 4 and 3."""
    program = Program()
    costs = {program.variable(): -worth for worth in (5.0, 4.0, 3.0)}
    program.row(dict.fromkeys(costs, 2.0), high=5)
    return program, costs


def test_the_cheapest_answer_is_found_and_proven() -> None:
    program, costs = knapsack()
    found = program.solve(costs, 10.0)
    assert found.values is not None
    assert (list(found.values), found.is_proven) == ([1, 1, 0], True)


def test_its_bound_is_no_dearer_than_the_answer() -> None:
    program, costs = knapsack()
    # Two and a half of them fit where a half may be taken.
    assert program.least(costs, 10.0) == -10.5


def test_what_is_left_out_is_not_taken() -> None:
    program, costs = knapsack()
    found = program.solve(costs, 10.0, without=[0])
    assert found.values is not None
    assert list(found.values) == [0, 1, 1]


def test_at_most_one_of_several_is_taken_and_one_alone_needs_no_row() -> None:
    program, costs = knapsack()
    program.at_most_one([0])
    program.at_most_one([0, 1])
    found = program.solve(costs, 10.0)
    assert found.values is not None
    assert list(found.values) == [1, 0, 1]


def test_what_has_no_answer_is_said_to_have_none() -> None:
    program, costs = knapsack()
    program.row(dict.fromkeys(costs, 1.0), low=3)
    found = program.solve(costs, 10.0)
    assert (found.values, found.is_proven) == (None, True)
    assert program.least(costs, 10.0) is None


def test_a_program_of_nothing_answers_itself() -> None:
    empty = Program()
    assert empty.least({}, 10.0) == 0
    found = empty.solve({}, 10.0)
    assert found.values is not None
    assert (len(found.values), found.is_proven) == (0, True)
    empty.row({}, low=1)
    assert empty.least({}, 10.0) is None
    assert empty.solve({}, 10.0) == (None, True)
