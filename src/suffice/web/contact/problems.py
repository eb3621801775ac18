"""The problems that answers and record point to, as the page of a contact shows them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple
from uuid import UUID

from django.urls import reverse

from suffice.assess.problems import NamedProblems, State, Weighed, instructions_of, trace_of
from suffice.assess.problems.words import name_of, settled_words, split_words
from suffice.clinical.entry import Entry, ProblemStatus, Record, standing
from suffice.clinical.entry.field import Chosen, fields_of
from suffice.clinical.units import HOURS_PER_DAY
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.schema import Level
from suffice.knowledge.store import Content
from suffice.language.kinds import KINDS, LEVELS
from suffice.message import Age, Listed, Message, Words, message
from suffice.web.shown.wording import as_heading, in_words

MARKS: Final[Mapping[Level, str]] = {
    "emergency": "now",
    "physician": "today",
    "consultant": "within-a-day",
    "look": "look-again",
    "note": "note",
}
PROPOSED: Final[Mapping[State, str]] = {
    State.STRONG: "strong",
    State.SUPPORTED: "supported",
    State.OPEN: "open",
    State.AGAINST: "against",
    State.EXCLUDED: "excluded",
}
SIDES: Final[Mapping[str, Message]] = {"left": message("left"), "right": message("right")}
STILL_OPEN: Final = frozenset({"open", "better"})
"""What was decided of a problem that is not over."""
Decided = dict[tuple[str, UUID | None], Entry]
"""Problem and person to the last decision."""
MOOD: Final = "mood"
"""Key of the part whose questions are between the parent and whoever asks."""
MOST_ASKED: Final = 3
"""How many questions are proposed at a time."""


class Shown(NamedTuple):
    """One problem: how far it is supported and why, what is done, and what she decided."""

    key: str
    infant: str
    name: str
    state: str
    mark: str
    level: str
    trace: tuple[str, ...]
    hand_over: tuple[str, ...]
    look_again: str
    settled: str
    disputes: tuple[tuple[str, str, str, str], ...]
    status: str
    status_word: str
    proposed: str


class Instruction(NamedTuple):
    """What is done or not, and for which problems."""

    is_done: bool
    says: str
    rules: tuple[str, ...]
    problems: str


class AskNext(NamedTuple):
    """What to ask next, why, and where it can be answered."""

    name: str
    why: str
    link: str


class Named(NamedTuple):
    """The problems of one infant with its parent."""

    infant: str
    problems: tuple[Shown, ...]
    instructions: tuple[Instruction, ...]
    split: tuple[str, ...]
    ask: tuple[AskNext, ...]


def named_of(
    found: Mapping[UUID, NamedProblems],
    record: Record,
    visit_id: UUID,
    content: Content,
    names: Mapping[UUID | None, str],
) -> list[Named]:
    """What is named, infant by infant; a problem of the parent stands with the first.

    What an earlier contact left open stays there until it is settled, whatever is known today. What
    this contact called settled or not so asks for nothing more.

    Args:
        found: The problems of each infant.
        record: The family's record, for what was decided.
        visit_id: The contact in progress.
        content: The content in use.
        names: What everybody is called.
    """
    decided = _decided(record)
    shown: list[Named] = []
    of_parent: set[str] = set()
    for infant in sorted(record.infants, key=lambda one: one.position):
        if infant.id not in found:
            continue
        own = found[infant.id]
        named = [
            one
            for one in own.problems
            if one.key not in of_parent
            and (one.is_named or _status(one, infant.id, decided) in STILL_OPEN)
        ]
        asked = [one for one in named if not _is_closed(one, infant.id, decided, visit_id)]
        of_parent |= {one.key for one in named if one.problem.about == "parent"}
        shown.append(
            Named(
                infant=names[infant.id],
                problems=tuple(_shown(one, infant.id, content, decided) for one in named),
                instructions=tuple(_instructions(asked, content)),
                split=tuple(in_words(one) for one in split_words(own.split, content))
                if own.split.answer != "not asked"
                else (),
                ask=tuple(_asked(own, infant.id, record.family_id, content)),
            )
        )
    return shown


def asked_next(
    found: Mapping[UUID, NamedProblems], infant: UUID | None, family_id: UUID, content: Content
) -> AskNext | None:
    """The one question to ask next, for the edge of a part; None where nothing is left to ask.

    Whoever sits beside sees the edge of every part, so that what is asked of the mood is left to its own part
    and to the contact's page.

    Args:
        found: The problems of each infant.
        infant: Whose part it is; None, or one of whom nothing is weighed, for the first-born.
        family_id: The family.
        content: The content in use.
    """
    whose = infant if infant in found else next(iter(found), None)
    if whose is None:
        return None
    asked = _asked(found[whose], whose, family_id, content, is_brief=True)
    mood = reverse("contact-part", args=[family_id, MOOD])
    return next((one for one in asked if not one.link.startswith(mood)), None)


def _decided(record: Record) -> Decided:
    """The last decision on each problem of each person."""
    return {
        (entry.fact.problem, entry.infant_id): entry
        for entry in standing(record.entries)
        if isinstance(entry.fact, ProblemStatus)
    }


def _last(one: Weighed, infant_id: UUID, decided: Decided) -> Entry | None:
    """The last decision on a problem."""
    return decided.get((one.key, infant_id if one.problem.about == "infant" else None))


def _status(one: Weighed, infant_id: UUID, decided: Decided) -> str:
    last = _last(one, infant_id, decided)
    return last.fact.status if last and isinstance(last.fact, ProblemStatus) else ""


def _is_closed(one: Weighed, infant_id: UUID, decided: Decided, visit_id: UUID) -> bool:
    """Whether this contact called a problem settled or not so."""
    last = _last(one, infant_id, decided)
    return (
        last is not None
        and isinstance(last.fact, ProblemStatus)
        and last.fact.contact_id == visit_id
        and last.fact.status not in STILL_OPEN
    )


def _shown(
    one: Weighed,
    infant_id: UUID,
    content: Content,
    decided: Decided,
) -> Shown:
    problem = one.problem
    whose = infant_id if problem.about == "infant" else None
    status = _status(one, infant_id, decided)
    name = as_heading(Message(problem.name))
    sides = tuple(SIDES[side] for side in one.sides if side)
    return Shown(
        key=one.key,
        infant=str(whose or ""),
        name=f"{name} ({in_words(message('{sides}', sides=Listed(sides, 'and')))})"
        if sides
        else name,
        state=in_words(_choice("proposed", PROPOSED[one.state])),
        mark=mark_of(one),
        level=in_words(urgency_of(one)),
        trace=tuple(in_words(words) for words in trace_of(one, content)),
        hand_over=tuple(
            in_words(_handed(over.to_whom, over.within_h, over.says)) for over in one.hand_over
        ),
        look_again=in_words(_again(problem.look_again.within_h, problem.look_again.says)),
        settled=in_words(settled_words(problem.settled, content)),
        disputes=tuple(
            (
                in_words(Message(two.about)),
                in_words(Message(two.one)),
                in_words(Message(two.other)),
                in_words(Message(two.choice)),
            )
            for two in problem.disputes
        ),
        status=status,
        status_word=in_words(_choice("status", status)) if status else "",
        proposed=PROPOSED[one.state],
    )


def _is_later(one: Weighed) -> bool:
    """Whether a physician must know of it, but not today."""
    return one.level == "physician" and (one.within_h or 0) > HOURS_PER_DAY


def mark_of(one: Weighed) -> str:
    """The mark of how urgent a problem is."""
    return MARKS["consultant"] if _is_later(one) else MARKS[one.level]


def urgency_of(one: Weighed) -> Words:
    """How urgent a problem is, as its hand-over says it."""
    if not _is_later(one):
        return LEVELS[one.level]
    return message("physician within {hours}", hours=Age(one.within_h or 0))


def _choice(field: str, value: str) -> Message:
    declared = fields_of(ProblemStatus)[field]
    choices = dict(declared.choices) if isinstance(declared, Chosen) else {}
    return choices[value]


def _handed(to_whom: str, within_h: float, says: str) -> Words:
    who = Message(to_whom)
    sentence = (
        message("Now: {who}", who=who)
        if within_h < 1
        else message("Within {hours}: {who}", who=who, hours=Age(within_h))
    )
    return message("{said} ({more})", said=sentence, more=Message(says)) if says else sentence


def _again(within_h: float, says: str) -> Words:
    sentence = message("Look again within {hours}", hours=Age(within_h))
    return message("{said} ({more})", said=sentence, more=Message(says)) if says else sentence


def _instructions(named: list[Weighed], content: Content) -> Iterator[Instruction]:
    names = {one.key: Message(one.problem.name) for one in named}
    for step in instructions_of(named, content.guide):
        yield Instruction(
            is_done=step.kind == "do",
            says=in_words(Message(step.says)),
            rules=tuple(in_words(Message(rule)) for rule in step.rules),
            problems=in_words(
                message("{names}", names=Listed(tuple(names[key] for key in step.problems)))
            ),
        )


def _asked(
    found: NamedProblems,
    infant_id: UUID,
    family_id: UUID,
    content: Content,
    *,
    is_brief: bool = False,
) -> Iterator[AskNext]:
    links: set[str] = set()
    for question in found.ask:
        name, link = where_asked(question.key, infant_id, family_id, content, is_brief=is_brief)
        if link in links:
            continue
        links.add(link)
        names = tuple(Message(content.guide.problems[key].name) for key in question.problems[:3])
        why = in_words(message("It may change: {names}.", names=Listed(names)))
        yield AskNext(as_heading(name), why, link)
        if len(links) == MOST_ASKED:
            return


def where_asked(
    key: str, infant_id: UUID, family_id: UUID, content: Content, *, is_brief: bool = False
) -> tuple[Message, str]:
    """What is asked, and the page that takes the answer: for what follows from it, that entry.

    Args:
        key: What is asked.
        infant_id: Of whom, where it is the infant's.
        family_id: The family.
        content: The content in use.
        is_brief: Whether what it shows is enough, without the name of that entry: the edge of a part has two
            lines.
    """
    known = content.known.get(key)
    by = known.asked_by if known else key
    one = content.vocabularies[FOLDER].get(by)
    if isinstance(one, Observable):
        asked = f"?infant={infant_id}" if one.about == "infant" else ""
        address = reverse("contact-part", args=[family_id, one.part])
        return name_of(by, content), f"{address}{asked}#{by}"
    about = f"&infant={infant_id}" if known and known.about == "infant" else ""
    link = f"{reverse('entry-new', args=[family_id, by])}?of=contact{about}"
    if known and known.signs:
        return name_of(key, content), f"{link}&sign={known.signs[0]}"
    kind = KINDS[by.replace("-", " ")]
    if is_brief:
        return name_of(key, content), link
    return message("{kind}: shows {name}", kind=kind, name=name_of(key, content)), link
