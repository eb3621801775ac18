"""A condition asked once, as it is written: made ready and put to the facts in one go."""

from __future__ import annotations

from collections.abc import Iterator

from suffice.assess.rules.question import NOTHING, Above, question_of
from suffice.assess.rules.table import Facts, Verdict
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import Content


def evaluate(
    condition: Condition, facts: Facts, content: Content, above: Above = NOTHING
) -> Verdict:
    return question_of(condition, content).verdict(facts, above)


def verdicts(
    condition: Condition, facts: Facts, content: Content, above: Above = NOTHING
) -> Iterator[Verdict]:
    """Once for each fact of the thing that the condition asks first."""
    question = question_of(condition, content)
    for each in question.facts_of_each(facts):
        yield question.verdict(each, above)
