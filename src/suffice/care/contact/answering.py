"""Starting a contact; giving, changing and taking back its answers.

Each is on the record when the call returns. A device may send the same tap twice, late, or after
another device has answered: the same tap is stored once, and an answer that whoever tapped had not
seen is never replaced: both are kept, and asked about.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from collections.abc import Set as AbstractSet
from datetime import datetime
from typing import Final
from uuid import UUID, uuid5

import msgspec

from suffice.care.contact.visit import Question, visit_of
from suffice.care.family.recording import record_entry, record_following
from suffice.clinical.entry import (
    AnyFact,
    Basis,
    ContactStart,
    Entry,
    Observation,
    ProblemStatus,
    Record,
    Sign,
    Withdrawal,
    standing,
)
from suffice.clinical.entry.observation import BETWEEN
from suffice.clinical.reading.numeral import DecimalMark, readings, tidy
from suffice.errors import InputError, Problem
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import Content
from suffice.message import Message, message

NONE: Final = "none"
"""The choice of several that says that there is nothing: never beside another."""
TAKEN_BACK: Final = "taken back"
"""Why an answer was withdrawn, as the record keeps it."""
LONGEST_TEXT_CHARACTERS: Final = 200
"""Of an answer in words, as of every answer (`Observation.answer`)."""


class Tap(msgspec.Struct, frozen=True, kw_only=True):
    """An answer as a device sends it.

    Attributes:
        key: Made by the device, one for each tap.
        visit_id: The contact.
        answer: As an observation holds it; None takes the answer back.
        seen: The entries that stood on the device as the answer so far.
        at: When it was tapped.
        now: When it arrived.
        actor: Who tapped.
    """

    key: UUID
    visit_id: UUID
    question: Question
    answer: str | None
    seen: frozenset[UUID]
    at: datetime
    now: datetime
    actor: str


class _Given(msgspec.Struct, frozen=True):
    """An answer that stands."""

    entry: Entry
    fact: Observation


def start(
    record: Record,
    fact: ContactStart,
    *,
    key: UUID,
    now: datetime,
    actor: str,
) -> UUID:
    """Begin a contact, or go on with the one that is in progress.

    Args:
        record: The family's record.
        fact: Where it takes place, the reason and the goal.
        key: Client-made id of the start; a second press is the same start.
        now: The instant.
        actor: Who begins it.

    Returns:
        The id of the contact.
    """
    started = key

    def once(there: Record) -> Iterable[Entry]:
        nonlocal started
        visit = visit_of(there)
        if visit is not None:
            started = visit.id
        elif all(one.id != key for one in there.entries):
            yield _entry(key, fact, now, actor, Basis.REPORTED)

    record_following(record.family_id, lambda there: tuple(once(there)), now=now)
    return started


def decide(
    record: Record,
    fact: ProblemStatus,
    *,
    infant_id: UUID | None,
    key: UUID,
    now: datetime,
    actor: str,
) -> None:
    """Put on the record what was decided of a problem; an earlier decision stays beside it.

    Raises:
        InputError: OBSERVATION-001, the contact is not on this family's record.
        StorageError: RECORD-009.
    """
    if fact.contact_id is not None:
        _check_contact(record, fact.contact_id)
    if all(entry.id != key for entry in record.entries):
        entry = msgspec.structs.replace(
            _entry(key, fact, now, actor, Basis.OBSERVED), infant_id=infant_id
        )
        record_entry(record.family_id, entry, now=now)


def answer(record: Record, tap: Tap, content: Content, mark: DecimalMark) -> None:
    """Put one answer on the record.

    Args:
        record: The family's record.
        tap: The answer.
        content: The vocabulary.
        mark: What stands before decimals in the language of the page.

    Raises:
        InputError: OBSERVATION-001, the contact is not on this family's record; OBSERVATION-002, the word is
            not one of the vocabulary, or of somebody else; OBSERVATION-003, it cannot be answered so.
        StorageError: RECORD-009.
    """
    _check_contact(record, tap.visit_id)
    word = word_of(content, tap.question)
    given = None if tap.answer is None else checked(word, tap.answer, mark)
    record_following(
        record.family_id,
        lambda there: tuple(_answer(there, tap, word, given)),
        now=tap.now,
        confirmed=True,
    )


def _answer(record: Record, tap: Tap, word: Observable, given: str | None) -> Iterator[Entry]:
    """The entries that an answer makes, beside what stands on the record already."""
    if any(entry.id == tap.key for entry in record.entries):
        return
    stands = _answers(record, tap.question, tap.visit_id)
    mine = [one for one in stands if one.entry.id in tap.seen]
    same = next((one for one in stands if one.fact.answer == given), None)
    over = mine
    if given is not None and same is None:
        yield from _given(record, tap, word, given, mine[:1])
        over = mine[1:]
    # Of answers that differed the others are gone, once somebody who saw them has chosen.
    for one in over:
        if one is not same:
            yield from _taken_back(record, one, tap)


def answer_as_expected(
    record: Record, given: Mapping[Question, str], tap: Tap, content: Content
) -> None:
    """Put on the record that what was looked at is as expected, all at once or nothing.

    Args:
        record: The family's record.
        given: The questions with the answers that this asserts.
        tap: Key, contact, time and who; what it asks is not used.
        content: The vocabulary.

    Raises:
        InputError: As :func:`answer`.
        StorageError: RECORD-009.
    """
    _check_contact(record, tap.visit_id)
    observed = {}
    for question, text in given.items():
        entry = _observed(tap, question, word_of(content, question), text)
        observed[question] = msgspec.structs.replace(entry, id=uuid5(tap.key, repr(question)))

    def open_ones(there: Record) -> tuple[Entry, ...]:
        ids = {entry.id for entry in there.entries}
        return tuple(
            entry
            for question, entry in observed.items()
            if entry.id not in ids and not _answers(there, question, tap.visit_id)
        )

    record_following(record.family_id, open_ones, now=tap.now, confirmed=True)


def word_of(content: Content, question: Question) -> Observable:
    """The word of the vocabulary that a question asks.

    Raises:
        InputError: OBSERVATION-002.
    """
    word = content.vocabularies.get(FOLDER, {}).get(question.what)
    is_of_parent = question.infant_id is None
    if (
        isinstance(word, Observable)
        and (word.about == "parent") == is_of_parent
        and word.by_side == (question.side is not None)
    ):
        return word
    raise InputError(
        Problem(
            code="OBSERVATION-002",
            what=message("'{key}'", key=question.what),
            why=message("is nothing that can be asked here of this person."),
            fix=message("Load the page again: what can be asked may have changed."),
        )
    )


def checked(word: Observable, text: str, mark: DecimalMark) -> str:
    """An answer as the record holds it.

    Args:
        word: What was asked.
        text: The answer: a key, several with '|' between them, a number, or words.
        mark: What stands before decimals in the language of the page.

    Raises:
        InputError: OBSERVATION-003.
    """
    if word.type == "number":
        return _number(word, text, mark)
    if word.type == "text":
        return _words(text)
    keys = text.split(BETWEEN) if word.type == "several choices" else [text]
    chosen = [key for key in word.answers if key in keys]
    if not chosen or len(chosen) != len(set(keys)):
        raise _cannot_be(
            text, message("is none of the answers."), message("Choose one that is there.")
        )
    if NONE in chosen and len(chosen) > 1:
        raise _cannot_be(
            text,
            message("says none and something else at once."),
            message("Choose none, or what was found."),
        )
    return BETWEEN.join(chosen)


def _number(word: Observable, text: str, mark: DecimalMark) -> str:
    """A number within the range of the word; one that can be read in two ways is not guessed."""
    read = {float(one.value) for one in readings(tidy(text), mark)}
    found = [value for value in read if word.least <= value <= word.most]
    if found and len(read) == 1:
        return f"{found[0]:g}"
    if found:
        why = message("can be read in two ways.")
        raise _cannot_be(text, why, message("Write it without a mark between thousands."))
    why = message(
        "is no number from {least} to {most}.",
        least=f"{word.least:g}",
        most=f"{word.most:g}",
    )
    raise _cannot_be(text, why, message("Correct it."))


def _words(text: str) -> str:
    """Words as they were written, without the space round them."""
    typed = text.replace("\r\n", "\n").strip()
    if not typed or any(not sign.isprintable() and sign != "\n" for sign in typed):
        raise _cannot_be(text, message("has signs that no page shows."), message("Type it again."))
    if len(typed) > LONGEST_TEXT_CHARACTERS:
        raise _cannot_be(
            f"{typed[:20]} …",
            message("has {count} characters.", count=len(typed)),
            message(
                "At most {most} fit here: write the rest as a note.", most=LONGEST_TEXT_CHARACTERS
            ),
        )
    return typed


def _cannot_be(text: str, why: Message, fix: Message) -> InputError:
    what = message("'{text}'", text=text)
    return InputError(Problem(code="OBSERVATION-003", what=what, why=why, fix=fix, where="answer"))


def _given(
    record: Record, tap: Tap, word: Observable, given: str, mine: list[_Given]
) -> Iterator[Entry]:
    entry = msgspec.structs.replace(
        _observed(tap, tap.question, word, given),
        replaces=mine[0].entry.id if mine else None,
    )
    signs = _signs_in(given, word)
    # A sign that the corrected answer still says stays as it is: a drawing is tapped field by field.
    kept = {sign.sign for _, sign in _signs_by(record, mine[0])} & signs if mine else set()
    yield entry
    yield from _signs_of(entry, signs - kept)
    for which, one in enumerate(mine):
        yield from _signs_taken_back(record, one, tap, kept=set() if which else kept)


def _observed(tap: Tap, question: Question, word: Observable, given: str) -> Entry:
    fact = Observation(
        what=question.what, answer=given, side=question.side, contact_id=tap.visit_id
    )
    basis = Basis.OBSERVED if "consultant" in word.by else Basis.REPORTED
    entry = _entry(tap.key, fact, tap.now, tap.actor, basis)
    return msgspec.structs.replace(entry, true_at=tap.at, infant_id=question.infant_id)


def _entry(key: UUID, fact: AnyFact, now: datetime, actor: str, basis: Basis) -> Entry:
    return Entry(id=key, fact=fact, basis=basis, true_at=now, entered_at=now, entered_by=actor)


def _signs_in(given: str, word: Observable) -> set[str]:
    """The signs that an answer says."""
    return {word.signs[one] for one in given.split(BETWEEN) if one in word.signs}


def _signs_of(entry: Entry, signs: Iterable[str]) -> Iterable[Entry]:
    """The entries of signs that an answer says: the table of flags reads signs only."""
    for sign in sorted(signs):
        fact = Sign(sign=sign, present=True)
        yield msgspec.structs.replace(entry, id=_sign_id(entry.id, sign), fact=fact, replaces=None)


def _sign_id(entry_id: UUID, sign: str) -> UUID:
    return uuid5(entry_id, f"sign {sign}")


def _signs_by(record: Record, one: _Given) -> list[tuple[Entry, Sign]]:
    """The signs that stand because of an answer, or of one that it took the place of."""
    every = {entry.id: entry for entry in record.entries}
    chain, entry = [one.entry.id], one.entry
    while entry.replaces in every:
        entry = every[entry.replaces]
        chain.append(entry.id)
    return [
        (entry, entry.fact)
        for entry in standing(record.entries)
        if isinstance(entry.fact, Sign)
        and any(entry.id == _sign_id(before, entry.fact.sign) for before in chain)
    ]


def _signs_taken_back(
    record: Record, one: _Given, tap: Tap, *, kept: AbstractSet[str] = frozenset()
) -> Iterator[Entry]:
    """What an answer had said as a sign is said no more once it is changed."""
    for entry, fact in _signs_by(record, one):
        if fact.sign not in kept:
            yield _withdrawal(entry, tap)


def _taken_back(record: Record, one: _Given, tap: Tap) -> Iterator[Entry]:
    yield _withdrawal(one.entry, tap)
    yield from _signs_taken_back(record, one, tap)


def _withdrawal(wrong: Entry, tap: Tap) -> Entry:
    return Entry(
        id=uuid5(wrong.id, TAKEN_BACK),
        fact=Withdrawal(reason=TAKEN_BACK),
        basis=Basis.OBSERVED,
        true_at=wrong.true_at,
        entered_at=tap.now,
        entered_by=tap.actor,
        infant_id=wrong.infant_id,
        replaces=wrong.id,
    )


def _answers(record: Record, question: Question, visit_id: UUID) -> list[_Given]:
    """The answers to a question that stand in a contact."""
    return [
        _Given(entry, entry.fact)
        for entry in standing(record.entries)
        if isinstance(entry.fact, Observation)
        and entry.fact.contact_id == visit_id
        and (entry.fact.what, entry.infant_id, entry.fact.side) == question
    ]


def _check_contact(record: Record, visit_id: UUID) -> None:
    started = (e for e in record.entries if isinstance(e.fact, ContactStart))
    if all(entry.id != visit_id for entry in started):
        raise InputError(
            Problem(
                code="OBSERVATION-001",
                what=message("This contact"),
                why=message("is not on the record of this family."),
                fix=message("Start it again on the family's page; nothing else is lost."),
            )
        )
