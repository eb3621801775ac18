"""Answers of a contact that the content in force does not know: no part asks them, and they are shown."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from suffice.care.contact.visit import Question, Visit
from suffice.clinical.entry import Observation
from suffice.clinical.entry.observation import BETWEEN
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import Content
from suffice.language.terms import observed
from suffice.message import Message
from suffice.web.contact.page import SIDE_NAMES
from suffice.web.shown.wording import as_heading, in_words


def unknown_answers(
    visit: Visit, content: Content, names: Mapping[UUID | None, str]
) -> tuple[str, ...]:
    """What stands on the record of a contact and cannot be marked on any of its parts, in words.

    A later content may have dropped a question or one of its choices; an import may bring others.

    Args:
        visit: The contact.
        content: The content in force.
        names: What each infant and the parent are called.
    """
    return tuple(
        _line(question, entry.fact, content, names)
        for question, entries in visit.answers.items()
        for entry in entries
        if isinstance(entry.fact, Observation) and not _is_known(entry.fact, content)
    )


def _is_known(fact: Observation, content: Content) -> bool:
    word = content.vocabularies[FOLDER].get(fact.what)
    if not isinstance(word, Observable):
        return False
    if fact.answer is None or not word.answers:
        return True
    return set(fact.answer.split(BETWEEN)) <= set(word.answers)


def _line(
    question: Question, fact: Observation, content: Content, names: Mapping[UUID | None, str]
) -> str:
    word = content.vocabularies[FOLDER].get(fact.what)
    name = as_heading(Message(word.name)) if isinstance(word, Observable) else fact.what
    side = f", {in_words(SIDE_NAMES[question.side])}" if question.side else ""
    answer = in_words(observed(fact.what, fact.answer))
    return f"{names.get(question.infant_id, '')} · {name}{side}: {answer}"
