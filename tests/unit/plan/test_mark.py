"""When a plan speaks of day 7 and day 14, and what it says."""

from __future__ import annotations

from people import an_entry
from plan_case import BIRTH, asked, proposed
from suffice.clinical.entry import Entry, Expression
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import text_of
from suffice.plan.known import known_of
from suffice.plan.mark import mark_parameters, mark_words, marks_of
from suffice.plan.parameters import plan_parameters


def sessions(days: int, ml: float = 20.0) -> tuple[Entry, ...]:
    return tuple(
        an_entry(f"s{n}", Expression(left_ml=ml, right_ml=ml), infant=None, at_h=3 * n + 1)
        for n in range(8 * days)
    )


def days_said(*entries: Entry, day: float, problems: tuple[str, ...] = ()) -> list[int]:
    one = asked(*entries, day=day, problems=problems, engine=False)
    return [found.day for found in marks_of(one, known_of(one, plan_parameters(load())))]


def test_a_pumped_start_is_told_of_both_marks_from_the_fourth_day() -> None:
    given = (BIRTH, *sessions(5))
    assert days_said(*given, day=5.1, problems=("pump_dependent",)) == [7, 14]
    assert days_said(BIRTH, *sessions(3), day=3.2, problems=("pump_dependent",)) == []


def test_who_feeds_at_the_breast_is_not() -> None:
    assert days_said(BIRTH, *sessions(5), day=5.1) == []


def test_after_two_weeks_nothing_is_forecast() -> None:
    assert days_said(BIRTH, *sessions(5), day=15, problems=("unit_start",)) == []


def test_the_sentence_has_the_interval_and_the_chance() -> None:
    one = asked(BIRTH, *sessions(5), day=5.1, problems=("unit_start",), engine=False)
    mark = marks_of(one, known_of(one, plan_parameters(load())))[1]
    said = text_of(mark_words(mark), Policy())
    assert said.startswith("Day 14: about ")
    assert "500" in said
    assert "%" in said
    proposal = proposed(BIRTH, *sessions(5), day=5.1, problems=("unit_start",))
    line = proposal.line("made")
    assert mark_words(mark) in line.says
    assert mark_parameters(load()).late_mark_ml_per_day in line.workings[1].constants
