"""What 'I looked: as expected' may say beside what was answered already."""

from __future__ import annotations

from collections.abc import Mapping

from suffice.assess.problems.contradiction import contradictions
from suffice.assess.rules.table import Found, Side
from suffice.care.contact.visit import Answers, Question, as_expected
from suffice.clinical.entry import Observation
from suffice.knowledge.observable import Observable
from suffice.knowledge.store import Content


def expected_now(
    asked: Mapping[Question, Observable], answers: Answers, content: Content
) -> dict[Question, str]:
    """Of each open question its one expected answer, but for those that cannot be so.

    A crack that was answered has a depth: nobody taps 'skin unbroken' with it. Such a question stays open.

    Args:
        asked: The questions of the part, of one infant and the parent.
        answers: What was answered in the contact.
        content: The content in use.
    """
    infants = {question.infant_id for question in asked} - {None}
    given: dict[str, tuple[Found, ...]] = {}
    for question, entries in answers.items():
        fact = entries[-1].fact
        if question.infant_id not in infants | {None} or not isinstance(fact, Observation):
            continue
        if fact.answer is not None:
            given[question.what] = (
                *given.get(question.what, ()),
                _found(fact.answers, question),
            )
    before = set(contradictions(given, content))
    return {
        question: answer
        for question, answer in as_expected(asked, answers).items()
        if before.issuperset(
            contradictions(
                given
                | {
                    question.what: (
                        *given.get(question.what, ()),
                        _found((answer,), question),
                    )
                },
                content,
            )
        )
    }


def _found(answers: tuple[str, ...], question: Question) -> Found:
    """An answer as a find; a question has one side or none, for 'both' asks each."""
    side: Side = "" if question.side is None or question.side == "both" else question.side
    try:
        return Found((), float(answers[0]), side)
    except ValueError:
        return Found(answers, None, side)
