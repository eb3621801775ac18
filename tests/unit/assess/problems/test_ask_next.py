"""The next question: what it changes, what is skipped, and that it is worth asking."""

from __future__ import annotations

import pytest

from suffice.assess.problems.ask_next import MOST_TRIED, Question, ask_next
from suffice.assess.problems.found import Found
from suffice.assess.problems.named import name_problems
from suffice.knowledge.store import load

CONTENT = load()
SORE = {"pain_where": (Found(("nipple",)),)}


def asked(finds, **options):
    return name_problems(finds, CONTENT, **options).ask


def test_a_danger_of_what_was_found_is_asked_first():
    first = asked({"redness": (Found(("wedge",)),), "fullness": (Found(("hard_sore",)),)})[0]
    assert CONTENT.guide.problems[first.problems[0]].level == "physician"


def test_what_is_known_or_skipped_is_not_asked():
    keys = [one.key for one in asked(SORE)]
    assert "pain_where" not in keys
    again = [one.key for one in asked(SORE, skipped=(keys[0],))]
    assert keys[0] not in again
    assert again


@pytest.mark.parametrize("finds", [SORE, {}, {"intake": (Found(("short",)),)}])
def test_every_question_changes_the_state_of_what_it_names(finds):
    """Asked anew with each answer that its problems tell apart, some state is another one."""
    before = {one.key: one.state for one in name_problems(finds, CONTENT).problems}
    questions = asked(finds)
    assert 0 < len(questions) <= MOST_TRIED
    for question in questions[:6]:
        word = CONTENT.vocabularies["observations"].get(question.key) or CONTENT.known[question.key]
        tried = [Found((one,)) for one in word.answers] or [
            Found(number=one) for one in (0, 0.2, 1, 3, 10, 100, 1000, 10000)
        ]
        changed = set()
        for found in tried:
            after = name_problems({**finds, question.key: (found,)}, CONTENT).problems
            changed |= {one.key for one in after if one.state is not before[one.key]}
        assert changed & set(question.problems), question


def test_the_same_finds_ask_the_same():
    assert asked(SORE) == asked(SORE)
    assert isinstance(asked(SORE)[0], Question)
    assert ask_next.__doc__
