"""The consultation note of one contact: who, findings by side, problem by problem, who was told, codes.

What was not asked stands apart from what was answered with no. Every line names its entry: the table at
the end says who entered it and when. Until somebody signs it, it has a line for that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final
from uuid import UUID

import msgspec

from suffice.assess.problems import (
    NamedProblems,
    State,
    Weighed,
    instructions_of,
    trace_of,
)
from suffice.assess.problems.words import SIDES
from suffice.assess.results import Finding
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import (
    Answer,
    Consent,
    ContactStart,
    Entry,
    Handover,
    Known,
    Observation,
    Plan,
    ProblemStatus,
    Telephone,
    kind_of,
)
from suffice.clinical.units import MINUTES_PER_HOUR
from suffice.documents.codes import codes_offered
from suffice.documents.frame import Source, framed, next_contact_at
from suffice.documents.note_plan import plan_lines
from suffice.documents.page import (
    Block,
    Heading,
    Items,
    Paper,
    Paragraph,
    Run,
    Runs,
    Table,
)
from suffice.documents.signed_note import Signature, signature_box
from suffice.documents.speaker import Speaker
from suffice.knowledge.observable import FOLDER, Observable
from suffice.language.facts import parts_of
from suffice.language.kinds import KINDS, choice_name
from suffice.language.terms import observed
from suffice.message import Amount, Instant, Listed, Message, Number, Words, joined, message

NOTE_TITLE: Final = message("Consultation note about {name}")
NONE: Final = message("none")
STATES: Final[dict[State, Message]] = {
    State.STRONG: message("well supported"),
    State.SUPPORTED: message("supported"),
}
REFERRALS: Final = (Handover, Answer, Known)
SMALLER_PT: Final = 0.5
IN_TABLES_OF_THEIR_OWN: Final = (
    *REFERRALS,
    Consent,
    Observation,
    ProblemStatus,
    Plan,
    ContactStart,
)

LEFT_OUT: Final = (*IN_TABLES_OF_THEIR_OWN, Telephone)
"""Kinds that are no row of what was entered; a note goes to others, who are not given the family's number."""


class NotedContact(msgspec.Struct, frozen=True, kw_only=True):
    """A contact that a note is about.

    Attributes:
        id: The id under which its entries belong together.
        start: Its start.
        end: The entry that ended it; None while it is in progress.
        observations: What was looked at and asked in it.
        during: All that was entered in it.
        consents: What the family has agreed to up to then, or not.
    """

    id: UUID
    start: Entry
    end: Entry | None
    observations: tuple[Entry, ...]
    during: tuple[Entry, ...]
    consents: tuple[Entry, ...]


class _Numbers:
    """Gives each entry that the note rests on its number, in the order in which it is named."""

    def __init__(self) -> None:
        self.named: dict[UUID, Entry] = {}

    def cite(self, *entries: Entry) -> Words:
        """The numbers of some entries."""
        for one in entries:
            self.named.setdefault(one.id, one)
        places = list(self.named)
        # An entry on which a line rests twice is named once, in the order in which the table has them.
        cited = sorted({places.index(one.id) + 1 for one in entries})
        return message("{numbers}", numbers=Listed(tuple(Number(one, 0) for one in cited)))


class Noted(msgspec.Struct, frozen=True, kw_only=True):
    """A note, and the entries that it quotes in the order of their numbers."""

    paper: Paper
    rests_on: tuple[UUID, ...]


def note(
    source: Source,
    contact: NotedContact,
    problems: dict[UUID, NamedProblems],
    signature: Signature | None = None,
) -> Noted:
    """The note of one contact, of the parent and all infants.

    Args:
        source: What it is made from.
        contact: The contact.
        problems: The problems of each infant with its parent.
        signature: Who signs it; None while nobody has.
    """
    numbers = _Numbers()
    blocks: tuple[Block, ...] = (
        *_what_it_was(source, contact, numbers),
        *_measured(source, contact, numbers),
        *_found(source, contact, numbers),
        *_flags(source, numbers),
        *_problems(source, contact, problems, numbers),
        *_plan(source, contact, problems, numbers),
        *_referrals(source, numbers),
        *codes_offered(source, problems),
        *_not_asked(source, contact),
        signature_box(source, signature),
        *_entries(source, numbers),
    )
    title = NOTE_TITLE.with_params(name=source.named(None))
    paper = framed(
        source, title=title, whose=None, reader="clinician", blocks=blocks, most_pages=None
    )
    return Noted(paper=paper, rests_on=tuple(numbers.named))


# ---- the contact -----------------------------------------------------------------------------


def _what_it_was(source: Source, contact: NotedContact, numbers: _Numbers) -> Iterator[Block]:
    speaker, start = source.speaker, contact.start
    yield Heading(speaker.say(NOTE_TITLE.with_params(name=source.named(None))), level=1)
    fact = start.fact
    place = choice_name(fact.place) if isinstance(fact, ContactStart) else NONE
    with_whom = Listed((source.named(None), *(one.name for one in source.assessment.infants)))
    yield Paragraph(
        speaker.sentences(
            [
                message("{place}, with {names}.", place=place, names=with_whom),
                _time(contact),
                message("By {who}.", who=source.people.get(start.entered_by, start.entered_by)),
            ]
        )
    )
    if isinstance(fact, ContactStart) and fact.reason:
        yield Paragraph(speaker.say(message("Reason: “{text}”", text=fact.reason)))
    if isinstance(fact, ContactStart) and fact.goal:
        yield Paragraph(speaker.say(message("Goal: “{text}”", text=fact.goal)))
    parts = [
        message("{what} [{entry}]", what=_line(one), entry=numbers.cite(one))
        for one in contact.consents
    ]
    agreed = message("{parts}", parts=Listed(tuple(parts))) if parts else message("not recorded")
    yield Paragraph(speaker.say(message("Consent: {consents}.", consents=agreed)))


def _time(contact: NotedContact) -> Words:
    start = contact.start.true_at
    if contact.end is None:
        return message("From {start}, in progress.", start=Instant(start))
    minutes = max(elapsed_h(start, contact.end.true_at), 0.0) * MINUTES_PER_HOUR
    return message(
        "From {start} to {end}: {minutes}.",
        start=Instant(start),
        end=Instant(contact.end.true_at),
        minutes=Amount(minutes, "min", 0),
    )


def _line(entry: Entry) -> Message:
    """An entry in a line: what it says, field by field."""
    return message("{parts}", parts=Listed(parts_of(entry.fact)))


# ---- what was found --------------------------------------------------------------------------


def _measured(source: Source, contact: NotedContact, numbers: _Numbers) -> Iterator[Block]:
    speaker = source.speaker
    rows = tuple(
        (
            speaker.say(source.named(one.infant_id)),
            speaker.say(KINDS[kind_of(one.fact)]),
            speaker.say(_line(one)),
            speaker.say(message("{instant}", instant=Instant(one.true_at))),
            speaker.say(_known(one)),
            speaker.say(numbers.cite(one)),
        )
        for one in contact.during
        if not isinstance(one.fact, LEFT_OUT) and one is not contact.end
    )
    yield Heading(speaker.say(message("Entered in this contact")))
    if not rows:
        yield Paragraph(speaker.say(message("Nothing was measured or counted in it.")))
        return
    heads = (
        *(message("Who"), message("What"), message("Value")),
        *(message("When"), message("How it is known"), message("Number")),
    )
    yield Table(_heads(speaker, heads), rows, (1.1, 1.2, 2.4, 1.5, 1.3, 0.9), SMALLER_PT)


def _heads(speaker: Speaker, heads: Iterable[Words]) -> tuple[Runs, ...]:
    return tuple(speaker.say(one) for one in heads)


def _known(entry: Entry) -> Words:
    basis = choice_name(entry.basis)
    if not entry.device:
        return basis
    return message("{basis}, {device}", basis=basis, device=entry.device)


def _found(source: Source, contact: NotedContact, numbers: _Numbers) -> Iterator[Block]:
    """What was seen and asked: by side, then what has no side; each with its entries."""
    speaker = source.speaker
    by_word: dict[tuple[str, UUID | None], list[Entry]] = {}
    for one in contact.observations:
        if isinstance(one.fact, Observation) and one.fact.answer is not None:
            by_word.setdefault((one.fact.what, one.infant_id), []).append(one)
    sided, others = [], []
    for (what, whose), found in by_word.items():
        name = speaker.say(_word(source, what))
        who = speaker.say(source.named(whose))
        if any(isinstance(one.fact, Observation) and one.fact.side for one in found):
            cells = tuple(speaker.say(_of_side(found, side)) for side in ("left", "right"))
            sided.append((who, name, *cells, speaker.say(numbers.cite(*found))))
        else:
            answer = speaker.say(_answers(found))
            others.append((who, name, answer, speaker.say(numbers.cite(*found))))
    yield Heading(speaker.say(message("Seen and asked")))
    if not by_word:
        yield Paragraph(speaker.say(message("Nothing was looked at or asked in it.")))
    if sided:
        heads = (
            *(message("Who"), message("What"), message("Left")),
            *(message("Right"), message("Number")),
        )
        yield Table(_heads(speaker, heads), tuple(sided), (1.1, 2.4, 1.6, 1.6, 0.8), SMALLER_PT)
    if others:
        others_heads = (message("Who"), message("What"), message("Found"), message("Number"))
        yield Table(_heads(speaker, others_heads), tuple(others), (1.1, 2.4, 3.2, 0.8), SMALLER_PT)


def _word(source: Source, what: str) -> Words:
    one = source.content.vocabularies[FOLDER].get(what)
    return Message(one.name) if one is not None else what


def _of_side(found: Iterable[Entry], side: str) -> Words:
    own = [
        one
        for one in found
        if isinstance(one.fact, Observation) and one.fact.side in {side, "both"}
    ]
    return _answers(own) if own else message("not asked")


def _answers(found: Iterable[Entry]) -> Words:
    """The answer; where two differ, both."""
    answers = dict.fromkeys(
        observed(one.fact.what, one.fact.answer)
        for one in found
        if isinstance(one.fact, Observation)
    )
    if len(answers) == 1:
        return next(iter(answers))
    return message("{answers} (answers differ)", answers=Listed(tuple(answers)))


def _not_asked(source: Source, contact: NotedContact) -> Iterator[Block]:
    """What of the parts that were opened stayed open, and the parts that nobody opened."""
    speaker, content = source.speaker, source.content
    answered = {
        one.fact.what
        for one in contact.observations
        if isinstance(one.fact, Observation) and one.fact.answer is not None
    }
    lines: list[Runs] = []
    unopened: list[Message] = []
    for key, part in content.parts.items():
        words = {
            what: one
            for what, one in content.vocabularies[FOLDER].items()
            if isinstance(one, Observable) and one.part == key
        }
        left = [Message(one.name) for what, one in words.items() if what not in answered]
        if len(left) == len(words):
            unopened.append(Message(part.title))
        elif left:
            line = message("{part}: {names}.", part=Message(part.title), names=Listed(tuple(left)))
            lines.append(speaker.say(line))
    if unopened:
        whole = message("Nothing was asked of: {parts}.", parts=Listed(tuple(unopened)))
        lines.append(speaker.say(whole))
    yield Heading(speaker.say(message("Not asked")))
    says = message("What is listed here was not asked; it was not answered with no.")
    yield Paragraph(speaker.say(says))
    yield Items(tuple(lines) or (speaker.say(NONE),))


def _flags(source: Source, numbers: _Numbers) -> Iterator[Block]:
    """What is flagged, the most urgent of each person first, with the entries that it rests on."""
    speaker, assessed = source.speaker, source.assessment
    entries = {one.id: one for one in source.entries}
    found: list[tuple[Finding, UUID | None]] = [(one, None) for one in assessed.findings]
    found += [(one, infant.infant_id) for infant in assessed.infants for one in infant.findings]
    lines = []
    for one, whose in found:
        if one.colour == "note":
            continue
        rests_on = [entries[key] for key in (*one.entry_ids, *one.noted_ids) if key in entries]
        sentence = message("{who}: {what}", who=source.named(whose), what=joined(*one.messages))
        line = message("{said} [{entries}]", said=sentence, entries=numbers.cite(*rests_on))
        lines.append(speaker.say(line if rests_on else sentence))
    yield Heading(speaker.say(message("Flagged")))
    yield Items(tuple(lines) or (speaker.say(NONE),))


# ---- problem by problem ----------------------------------------------------------------------


def _problems(
    source: Source, contact: NotedContact, problems: dict[UUID, NamedProblems], numbers: _Numbers
) -> Iterator[Block]:
    speaker = source.speaker
    yield Heading(speaker.say(message("Problems and reasoning")))
    shown: set[str] = set()
    for infant in source.assessment.infants:
        found = problems.get(infant.infant_id)
        for one in found.named if found else ():
            about = infant.infant_id if one.problem.about == "infant" else None
            if about is None and one.key in shown:
                continue
            shown.add(one.key)
            yield from _problem(source, contact, one, about, numbers)
    if not shown:
        yield Paragraph(speaker.say(message("No problem is named.")))


def _problem(
    source: Source, contact: NotedContact, one: Weighed, about: UUID | None, numbers: _Numbers
) -> Iterator[Block]:
    speaker = source.speaker
    sides = tuple(SIDES[side] for side in one.sides if side)
    name: Words = Message(one.problem.name)
    if sides:
        name = message("{problem} ({sides})", problem=name, sides=Listed(sides, "and"))
    head = message(
        "{who}: {problem}, {state}",
        who=source.named(about),
        problem=name,
        state=STATES.get(one.state, NONE),
    )
    yield Heading(speaker.say(head), level=3)
    sentences: list[Words] = list(trace_of(one, source.content))
    decided = [
        entry
        for entry in contact.during
        if isinstance(entry.fact, ProblemStatus)
        and entry.fact.problem == one.key
        and entry.infant_id == about
    ]
    sentences.extend(
        message("Decided: {what} [{entry}].", what=_line(one), entry=numbers.cite(one))
        for one in decided[-1:]
    )
    yield Paragraph(speaker.sentences(sentences))


def _steps(source: Source, problems: dict[UUID, NamedProblems]) -> Iterator[Words]:
    """Each step once: what one infant of several needs says whose it is, and takes nothing from another."""
    asked: dict[str, dict[UUID, None]] = {}
    for about, found in problems.items():
        for step in instructions_of(found.named, source.content.guide):
            asked.setdefault(step.says, {})[about] = None
    for says, those in asked.items():
        if len(those) == len(problems):
            yield Message(says)
        else:
            who = Listed(tuple(source.named(one) for one in those), "and")
            yield message("{who}: {says}", who=who, says=Message(says))


def _plan(
    source: Source, contact: NotedContact, problems: dict[UUID, NamedProblems], numbers: _Numbers
) -> Iterator[Block]:
    speaker = source.speaker
    yield Heading(speaker.say(message("Plan")))
    lines = tuple(speaker.say(one) for one in plan_lines(source, contact.during, numbers.cite))
    if lines:
        yield Items(lines)
    else:
        yield Paragraph(speaker.say(message("No plan was entered in this contact.")))
    steps = tuple(speaker.say(one) for one in _steps(source, problems))
    if steps:
        says = message("Steps that the named problems ask for, as the content has them:")
        yield Paragraph(speaker.say(says))
        yield Items(steps)
    due = next_contact_at(source)
    yield Paragraph(
        speaker.say(message("Next contact: {instant}.", instant=Instant(due)))
        if due is not None and due > source.as_of
        else speaker.say(message("No next contact is planned."))
    )


# ---- who was told, and the entries ---------------------------------------------------------------------


def _referrals(source: Source, numbers: _Numbers) -> Iterator[Block]:
    speaker = source.speaker
    rows = tuple(
        (
            speaker.say(message("{instant}", instant=Instant(one.true_at))),
            speaker.say(source.named(one.infant_id)),
            speaker.say(KINDS[kind_of(one.fact)]),
            speaker.say(_line(one)),
            speaker.say(numbers.cite(one)),
        )
        for one in source.entries
        if isinstance(one.fact, REFERRALS) and one.entered_at <= source.as_of
    )
    yield Heading(speaker.say(message("Handed over, and who answered")))
    if not rows:
        yield Paragraph(speaker.say(message("No handover is recorded.")))
        return
    heads = (
        *(message("When"), message("Who"), message("What")),
        *(message("To whom, what was asked or found"), message("Number")),
    )
    yield Table(_heads(speaker, heads), rows, (1.6, 1.1, 1.3, 3.3, 0.9), SMALLER_PT)


def _entries(source: Source, numbers: _Numbers) -> Iterator[Block]:
    speaker = source.speaker
    yield Heading(speaker.say(message("Entries")))
    rows = tuple(
        (
            speaker.say(message("{number}", number=Number(number, 0))),
            (Run(str(one.id)),),
            speaker.say(KINDS[kind_of(one.fact)]),
            speaker.say(source.people.get(one.entered_by, one.entered_by)),
            speaker.say(message("{instant}", instant=Instant(one.entered_at))),
        )
        for number, one in enumerate(numbers.named.values(), start=1)
    )
    if not rows:
        yield Paragraph(speaker.say(message("The note rests on no entry of its own.")))
        return
    heads = (
        *(message("Number"), message("Entry"), message("What")),
        *(message("Entered by"), message("Entered")),
    )
    yield Table(_heads(speaker, heads), rows, (0.8, 3.2, 1.6, 1.4, 1.6), 1.5)
