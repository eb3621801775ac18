"""What the pages of a contact show: its parts, and the questions of a part with what was answered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final, NamedTuple
from uuid import UUID

from suffice.care.contact.expected import expected_now
from suffice.care.contact.visit import (
    Question,
    Visit,
    asked_in,
    is_answered,
)
from suffice.clinical.entry import Entry, Observation, Record
from suffice.knowledge.observable import NO, YES, Observable
from suffice.knowledge.store import Content
from suffice.language.terms import observed
from suffice.message import Message, message
from suffice.web.contact.follows import Following, Follows
from suffice.web.shown.wording import Moment, Wording, as_heading, in_words

SIDE_NAMES: Final[Mapping[str | None, Message]] = {
    "left": message("left"),
    "right": message("right"),
}
LOOK_NAMES: Final[Mapping[str, Message]] = {
    "clear": message("clear"),
    "borderline": message("borderline"),
    "short": message("short of it"),
}
ANSWER_NAMES: Final = {YES: message("Yes"), NO: message("No")}


class PartRow(NamedTuple):
    """A part in the list of parts."""

    key: str
    title: str
    says: str
    answered: int
    asked: int


class Choice(NamedTuple):
    """One answer that can be tapped."""

    key: str
    name: str
    is_given: bool


class Given(NamedTuple):
    """An answer that stands, where two differ."""

    words: str
    who: str
    at: Moment


class Asked(NamedTuple):
    """A question of one person on one side.

    `seen` names the entries that stand as its answer; `was` is what the contact before found.
    """

    what: str
    infant: str
    side: str
    side_name: str
    choices: tuple[Choice, ...]
    written: str
    seen: str
    was: str
    was_answer: str
    was_at: Moment | None
    differing: tuple[Given, ...]


class Look(NamedTuple):
    """One drawing of a point of the latch: its name in latch.svg, how it is called, what it shows."""

    drawing: str
    name: str
    says: str


class Block(NamedTuple):
    """One thing to look at, with its one or two sides; `is_drawn` where it is placed on a drawing.

    `doubts` are what its answers and others cannot both be, `follows` the flags that rest on them.
    """

    name: str
    looks: tuple[Look, ...]
    is_drawn: bool
    look: str
    type: str
    unit: str
    asked: tuple[Asked, ...]
    what: str
    doubts: tuple[str, ...]
    follows: tuple[Following, ...]


class Expected(NamedTuple):
    """What one tap on 'as expected' puts on the record."""

    says: str
    question: Question


def part_rows(visit: Visit, content: Content, record: Record) -> list[PartRow]:
    """The parts in their order, with how much of each is answered."""
    infants = [one.id for one in record.infants]
    rows = []
    for key, part in content.parts.items():
        asked = asked_in(content, key, infants)
        answered = sum(is_answered(visit.answers, one) for one in asked)
        title, says = as_heading(Message(part.title)), in_words(Message(part.says))
        rows.append(PartRow(key, title, says, answered, len(asked)))
    return rows


def blocks(
    visit: Visit,
    asked: Mapping[Question, Observable],
    *,
    wording: Wording,
    names: Mapping[str, str],
    doubts: Mapping[str, tuple[str, ...]],
    follows: Follows,
    now: datetime,
) -> list[Block]:
    """The questions of a part, both sides of one thing together.

    Args:
        visit: The contact with its answers.
        asked: The questions of the part.
        wording: How the clinic reads times.
        names: User to the name by which people know them.
        doubts: Observation to what is asked about it.
        follows: Observation to the flags that rest on it.
        now: The instant.
    """
    found: dict[tuple[str, UUID | None], list[Asked]] = {}
    words: dict[str, Observable] = {}
    for question, word in asked.items():
        words[question.what] = word
        found.setdefault((question.what, question.infant_id), []).append(
            _asked(visit, question, word, wording, names, now)
        )
    return [
        Block(
            as_heading(Message(words[what].name)),
            _looks(what, words[what]),
            bool(words[what].map),
            in_words(Message(words[what].look)) if words[what].look else "",
            "scale" if words[what].scale else words[what].type,
            wording.quantity(0, words[what].unit).unit if words[what].unit else "",
            tuple(sides),
            what,
            doubts.get(what, ()),
            follows.get(what, ()),
        )
        for (what, _), sides in found.items()
    ]


def _looks(what: str, word: Observable) -> tuple[Look, ...]:
    return tuple(
        Look(f"{what}-{state}", as_heading(LOOK_NAMES[state]), in_words(Message(says)))
        for state, says in word.looks.items()
    )


def expected_list(
    visit: Visit, asked: Mapping[Question, Observable], content: Content
) -> list[Expected]:
    """What 'as expected' would say of the questions that are open, in words."""
    found = []
    for question, answer in expected_now(asked, visit.answers, content).items():
        name = as_heading(Message(asked[question].name))
        side = f" ({in_words(SIDE_NAMES[question.side])})" if question.side else ""
        found.append(
            Expected(f"{name}{side}: {in_words(observed(question.what, answer))}", question)
        )
    return found


def _asked(
    visit: Visit,
    question: Question,
    word: Observable,
    wording: Wording,
    names: Mapping[str, str],
    now: datetime,
) -> Asked:
    stands = visit.answers.get(question, ())
    given = _answers_of(stands)
    before = visit.before.get(question)
    was = _answers_of((before,))[0] if before is not None else ""
    return Asked(
        what=question.what,
        infant=str(question.infant_id or ""),
        side=question.side or "",
        side_name=as_heading(SIDE_NAMES[question.side]) if question.side else "",
        choices=_choices(word, given),
        written=given[-1]
        if given and word.type in {"number", "text"} and given[-1] not in word.scale
        else "",
        seen=" ".join(str(entry.id) for entry in stands),
        was=in_words(observed(question.what, was)) if was else "",
        was_answer=was,
        was_at=wording.past_moment(before.true_at, now) if before is not None else None,
        differing=tuple(
            Given(
                in_words(observed(question.what, answer)),
                names.get(entry.entered_by, entry.entered_by),
                wording.past_moment(entry.true_at, now),
            )
            for entry, answer in zip(stands, given, strict=True)
        )
        if len(set(given)) > 1
        else (),
    )


def _answers_of(entries: Sequence[Entry]) -> list[str]:
    return [entry.fact.answer or "" for entry in entries if isinstance(entry.fact, Observation)]


def _choices(word: Observable, given: Sequence[str]) -> tuple[Choice, ...]:
    """The answers to tap; where two answers differ both are marked."""
    chosen = {part for answer in given for part in answer.split("|")}
    if word.scale:
        return tuple(Choice(point, point, point in chosen) for point in word.scale)
    return tuple(
        Choice(
            key,
            in_words(ANSWER_NAMES[key])
            if word.type == "yes or no"
            else as_heading(Message(word.choices[key])),
            key in chosen,
        )
        for key in word.answers
    )
