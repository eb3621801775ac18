"""What was taught, what the parents said back, and what is left for the next contact, in words."""

from __future__ import annotations

from typing import Final, NamedTuple

from suffice.care.contact.visit import Question, Visit
from suffice.clinical.entry import Observation
from suffice.language.terms import observed
from suffice.message import Message, message
from suffice.web.shown.wording import as_heading, in_words

PART: Final = "teaching"
TAUGHT, BACK, NEXT = "taught", "said_back", "tell_next"
NONE: Final = "none"


class Taught(NamedTuple):
    """What the page of a contact says of teaching.

    `waiting` was left for this contact by the one before; `done` and `open` are what this one has.
    """

    waiting: str
    done: tuple[str, ...]
    open: tuple[str, ...]


def teaching_of(visit: Visit) -> Taught:
    """What is known of teaching: nobody is taken to have understood because nobody asked."""
    left = _before(visit, NEXT)
    taught, back = _now(visit, TAUGHT), _now(visit, BACK)
    done = tuple(
        _says(sentence, what, _now(visit, what))
        for what, sentence in DONE.items()
        if _now(visit, what)
    )
    untold = tuple(topic for topic in _topics(left) if topic not in taught)
    unsaid = tuple(topic for topic in _topics(taught) if topic not in back)
    still = []
    if untold:
        still.append(
            _says(message("Left for this contact, not taught yet: {topics}"), NEXT, untold)
        )
    if unsaid:
        still.append(_says(message("Taught, not said back yet: {topics}"), TAUGHT, unsaid))
    if taught and not _now(visit, NEXT):
        still.append(as_heading(message("What to tell the parents next time: open")))
    waiting = _says(message("Left for this contact: {topics}"), NEXT, untold) if untold else ""
    return Taught(waiting, done, tuple(still))


DONE: Final[dict[str, Message]] = {
    TAUGHT: message("Taught: {topics}"),
    BACK: message("Said back: {topics}"),
    NEXT: message("Next time: {topics}"),
}


def _says(sentence: Message, what: str, topics: tuple[str, ...]) -> str:
    named = in_words(observed(what, "|".join(topics)))
    return as_heading(sentence.with_params(topics=named))


def _topics(answers: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(one for one in answers if one != NONE)


def _now(visit: Visit, what: str) -> tuple[str, ...]:
    """Every topic of the answers that stand, in their order; where two differ, those of both."""
    found = visit.answers.get(Question(what, None, None), ())
    facts = (entry.fact for entry in found)
    return tuple(
        dict.fromkeys(
            topic for fact in facts if isinstance(fact, Observation) for topic in fact.answers
        )
    )


def _before(visit: Visit, what: str) -> tuple[str, ...]:
    entry = visit.before.get(Question(what, None, None))
    return entry.fact.answers if entry and isinstance(entry.fact, Observation) else ()
