"""What can be observed of a family, and what is known of it already: the vocabulary of observations.

The files of ``content/observations/`` hold one part of a contact each; their words are entered as
:class:`suffice.clinical.entry.Observation`. ``known.toml`` names what is never entered so, because it
follows from other entries and from the assessment.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final, Literal

import msgspec

from suffice.knowledge.schema import Term, Unit
from suffice.message import Message, message

FOLDER: Final = "observations"
"""The folder of the content; also what the vocabulary is called."""
KNOWN: Final = f"{FOLDER}/known"
"""The file of what is known already."""
YES, NO = "yes", "no"
LOOKS: Final = ("clear", "borderline", "short")
"""The three drawings of a point of the latch: clear, borderline, short of it."""
Answers = Literal["yes or no", "one choice", "several choices", "number", "text"]
POINTS: Final = "{points}"
"""The unit of what is told on a scale."""
LONGEST_SCALE: Final = 10
"""The last point of a scale that is tapped: of pain 0 to 10; what goes on further is a total, which is typed."""


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One part of a contact: its place among the parts, its heading, and what it holds.

    `lasts` where an answer counts at later contacts too, as history does; else it counts for its own.
    """

    place: int
    title: str
    says: str
    lasts: bool = False


class Observable(Term, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something that can be seen, heard, measured or asked; its `group` is the heading of its part.

    Attributes:
        type: How it is answered.
        choices: Key of a choice to what it is called; empty for yes or no, and for a number.
        expected: The answers that are as expected; what nobody can call expected has none.
        by_side: Whether it is looked at left and right.
        by: Who can tell it: the consultant by looking, the parent, or the record of others.
        unit: Of a number, as in units.toml.
        least: The smallest number that can be.
        most: The largest number that can be.
        code: LOINC or SNOMED CT code, where one is sure; SNOMED CT needs a licence of the country.
        drawing: Whether people would rather see it drawn than read it.
        looks: What each of its three drawings shows, by how near to it a latch is; empty where
            there are none.
        map: The drawing on which it is placed; empty where it is on none.
        signs: Answer to the sign that says the same before the table of flags.
        part: Name of its file.
    """

    type: Answers
    choices: dict[str, str] = {}
    expected: tuple[str, ...] = ()
    by_side: bool = False
    by: tuple[Literal["consultant", "parent", "record"], ...]
    unit: str = ""
    least: float = 0
    most: float = 0
    code: str = ""
    drawing: bool = False
    looks: dict[str, str] = {}
    map: Literal["", "breast", "nipple"] = ""
    signs: dict[str, str] = {}
    part: str = ""

    @property
    def answers(self) -> tuple[str, ...]:
        """The answers that can be chosen; none of a number."""
        return answers_of(self)

    @property
    def scale(self) -> tuple[str, ...]:
        """The points of a short scale, which are tapped and not typed; empty of anything else."""
        is_scale = self.type == "number" and self.unit == POINTS and self.most <= LONGEST_SCALE
        return tuple(str(one) for one in range(int(self.least), int(self.most) + 1)) * is_scale


class KnownFact(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What follows from entries and from the assessment, and is never entered as an observation.

    Attributes:
        follows_from: From which entries.
        asked_by: The observation, or the kind of entry as its address has it, by which it becomes known;
            empty where nobody is asked for it.
        signs: Signs of which one present means yes, and all absent no. Where flags say yes too, they alone do:
            a sign stands on the record after it was answered, its flag does not.
        flags: Answer to the flags of which an open one means it, the first of the answers first.
    """

    about: Literal["infant", "parent"]
    name: str
    type: Answers
    follows_from: str
    asked_by: str = ""
    signs: tuple[str, ...] = ()
    flags: dict[str, tuple[str, ...]] = {}
    choices: dict[str, str] = {}
    unit: str = ""

    @property
    def answers(self) -> tuple[str, ...]:
        """The answers that can be chosen; none of a number."""
        return answers_of(self)


AnyFact = Observable | KnownFact


def answers_of(fact: AnyFact) -> tuple[str, ...]:
    """The answers that a fact can have; none of a number or a text."""
    return (YES, NO) if fact.type == "yes or no" else tuple(fact.choices)


def files_of(parsed: Mapping[str, dict[str, Any]]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The files of the vocabulary with their names, what is known already apart."""
    for path, raw in parsed.items():
        if path.startswith(f"{FOLDER}/") and path != KNOWN:
            yield path, raw


def faults_of(
    one: AnyFact, units: Mapping[str, Unit], signs: Mapping[str, Term]
) -> Iterator[Message]:
    """What is wrong with a fact of the vocabulary, each in a few plain words."""
    if bool(one.choices) != (one.type in {"one choice", "several choices"}):
        yield message("it has choices exactly where one or several are chosen")
    if any(not key.replace("_", "").isalnum() or key != key.lower() for key in one.choices):
        yield message("the key of a choice has small letters, digits and underscores")
    if len(set(one.choices.values())) != len(one.choices):
        yield message("two of its choices are called the same")
    if (one.type == "number") != bool(one.unit) or (one.unit and one.unit not in units):
        yield message("a number, and nothing else, has a unit of units.toml")
    codes = one.signs if isinstance(one, KnownFact) else one.signs.values()
    if any(key not in signs or signs[key].about != one.about for key in codes):
        yield message("a sign that it says is a word of signs.toml about the same person")
    if isinstance(one, KnownFact):
        return
    if one.type == "number" and one.least >= one.most:
        yield message("a number has a smallest and a largest value")
    if not {*one.expected, *one.signs} <= set(one.answers):
        yield message("what is expected, or says a sign, is one of its answers")
    if one.looks and (tuple(one.looks) != LOOKS or not one.drawing):
        yield message("what is drawn three times is clear, borderline and short, in this order")
    if one.type == "text" and (one.by_side or one.expected):
        yield message("a text has no side, and nothing that is expected")
    if not one.by:
        yield message("somebody can tell it")
