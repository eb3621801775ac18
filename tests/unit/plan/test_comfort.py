"""Comfort and breast steps of the pathways in the line on the breast of a plan."""

from __future__ import annotations

import msgspec

from plan_case import BIRTH, a_weight, asked
from suffice.knowledge.store import load
from suffice.message import Message
from suffice.plan.comfort import AT_THE_BREAST, FED, comfort_of, family_steps
from suffice.plan.propose import propose

GUIDE = load().guide


def of(*problems: str) -> list[str]:
    one = asked(BIRTH, a_weight(3300, 5), day=6, engine=False)
    named = msgspec.structs.replace(one, problems=frozenset(problems))
    return [str(words) for words in comfort_of(named)]


def test_a_full_breast_is_softened_before_the_latch_and_cooled_after() -> None:
    said = of("engorgement")
    assert any("Soften a hard areola" in one for one in said)
    assert any("old" in one and "breast" in one.lower() for one in said)


def test_without_a_problem_there_is_none_and_a_key_of_another_content_is_passed_over() -> None:
    assert of() == []
    assert of("no such problem") == []


def test_a_step_that_two_problems_ask_for_is_said_once() -> None:
    said = of(*GUIDE.problems)
    assert len(said) == len(set(said))


def test_feeds_sides_and_sessions_are_left_to_their_lines() -> None:
    """A pathway that also changes how often, when or on which side in turn has no step here: it would fight its line."""
    others = {"removal", "feeds", "rhythm", "night", "side", "supplement"}
    texts = {one.do for one in GUIDE.instructions.values() if others & set(one.acts_on)} - {""}
    assert texts
    assert texts.isdisjoint(of(*GUIDE.problems))


def test_they_stand_in_the_line_on_the_breast() -> None:
    one = asked(BIRTH, a_weight(3300, 5), day=6, engine=False)
    named = msgspec.structs.replace(one, problems=frozenset({"engorgement"}))
    line = next(line for line in propose(named).lines if line.part == "breast")
    assert set(of("engorgement")) <= {str(words) for words in line.says}


def test_each_step_has_the_words_of_a_family_or_a_line_of_its_own() -> None:
    sided = {"rest_and_express", "stop_that_side"}
    acting = {
        key
        for key, one in GUIDE.instructions.items()
        if one.do and (topics := set(one.acts_on) - {FED}) and topics <= AT_THE_BREAST
    }
    assert acting - sided == {key for key, one in GUIDE.instructions.items() if one.family}


def test_what_is_done_at_the_breast_is_not_asked_for_away_from_it() -> None:
    one = asked(BIRTH, a_weight(3300, 5), day=6, engine=False)
    named = msgspec.structs.replace(one, problems=frozenset({"engorgement"}))
    there = list(family_steps(named, at_breast=True))
    softened = Message(GUIDE.instructions["soften_areola"].family)
    assert softened in there
    away = list(family_steps(named, at_breast=False))
    assert away
    assert softened not in away
