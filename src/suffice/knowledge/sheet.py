"""Teaching sheets as content: one topic for a family on one page, each fact with what it rests on.

The files of ``content/sheets/`` hold one sheet each. A sheet says no number of its own: each stands in the
content with its unit and its source, and the sheet names it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from datetime import date
from typing import Final, Literal

import msgspec

from suffice.knowledge.phones import PHONES
from suffice.knowledge.problem import Sourced
from suffice.knowledge.schema import AnyEntry, NumberEntry
from suffice.message import Listed, Message, Number, message

FOLDER: Final = "sheets"
"""The folder of the content."""
GAP: Final = re.compile(r"\{(\w+)\}")
NUMBER: Final = re.compile(
    r"\d|\b(two|three|four|five|six|seven|eight|nine|ten|twelve|twice)\b", re.IGNORECASE
)
"""A number that is written instead of named."""
FACTS: Final = range(8, 15)
"""How many facts a sheet has: fewer say too little, more are not read."""
PARTS: Final = range(2, 5)
"""Under how many headings they stand."""
MOST_OF_PART: Final = 5
"""How many stand under one heading at most."""

MOST_ON_A_PAGE: Final = 3
"""How many facts stand on a page of a class, which is read from the last row."""


class Fact(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing to know or to do.

    Attributes:
        says: It in a family's words; gaps name numbers of the sheet, and what stands between two stars is bold.
        plan: 'without' where it is left out once a plan is on the record, which says it itself.
        in_class: Whether a page of a parents' class shows it; a sheet is in the class where any fact of it is.
        drawing: Name of the drawing that it explains; where the facts of a part have one, they stand under it.
    """

    says: str
    plan: Literal["", "without"] = ""
    in_class: bool = False
    drawing: str = ""


class SheetPart(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Facts under one heading.

    Attributes:
        title: The heading.
        facts: What stands under it.
        drawing: Name of the drawing that goes with them; empty where there is none.
    """

    title: str
    facts: tuple[Fact, ...]
    drawing: str = ""

    @property
    def is_gallery(self) -> bool:
        """Whether each of its facts stands under a drawing of its own."""
        return bool(self.facts) and all(one.drawing for one in self.facts)

    def in_class(self) -> tuple[Fact, ...]:
        """The facts that a page of a parents' class shows."""
        return tuple(one for one in self.facts if one.in_class)


class Sheet(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One sheet.

    Attributes:
        place: Its place among the sheets; of two that may not go together the earlier one is given.
        title: What to do, as its headline.
        first: What to try first.
        parts: The facts, heading by heading.
        call: When to call the clinic.
        read_on: The day on which its facts were last compared with their sources.
        numbers: Each gap to the key of the number that fills it.
        note: For whom it is, printed small; empty where it is for everybody.
        goes_with: Keys of problems with which it is offered first.
        not_with: Keys of problems with which it is not given.
        not_beside: Keys of sheets beside which it is not given, and which are not given beside it.
        at_breast: Whether it is about a feed at the breast, which a plan may leave out for now.
        reassures: Whether it calms: then it is not given while something is flagged.
        only_with: Whether it is given only where a problem that it goes with is open: what it says would
            frighten, or mislead, a family without it.
        parent_only: Whether it is about the parent alone: its box on help then names no sign of an infant.
        without_milk: Whether it is given while an infant may have no milk; all others wait then.
        acts_on: What it acts on, to the way in which it pulls it, in the words of the instructions.
    """

    place: int
    title: str
    first: Fact
    parts: tuple[SheetPart, ...]
    call: Fact
    read_on: date
    numbers: dict[str, str] = {}
    note: str = ""
    goes_with: tuple[str, ...] = ()
    not_with: tuple[str, ...] = ()
    not_beside: tuple[str, ...] = ()
    at_breast: bool = False
    reassures: bool = False
    only_with: bool = False
    parent_only: bool = False
    without_milk: bool = False
    acts_on: dict[str, str] = {}

    def facts(self) -> Iterator[Fact]:
        """All that it says, what to try first first."""
        yield self.first
        for part in self.parts:
            yield from part.facts
        yield self.call

    def texts(self) -> Iterator[str]:
        """Every text of it that a family reads."""
        yield self.title
        yield from (part.title for part in self.parts)
        yield from (fact.says for fact in self.facts())
        yield self.note


Sheets = Mapping[str, Sheet]


def fights(one: str, other: str, sheets: Sheets) -> bool:
    """Whether two sheets are not given together, whichever of them says so."""
    return other in sheets[one].not_beside or one in sheets[other].not_beside


def faults_of_sheet(
    key: str,
    sheets: Sheets,
    problems: Collection[str],
    entries: Mapping[str, AnyEntry],
    sources: Collection[str],
) -> Iterator[Message]:
    """What is wrong with a sheet, each in a few plain words.

    Args:
        key: Its key.
        sheets: All sheets.
        problems: Keys of the problems.
        entries: What was entered, by key.
        sources: Names of sources.
    """
    one = sheets[key]
    yield from _faults_of_names(key, sheets, problems)
    yield from _faults_of_numbers(one, entries)
    for fact in one.facts():
        if (fact.basis == "published") != bool(fact.sources):
            yield message("what is published names its source, and nothing else does")
        for source in fact.sources:
            if source not in sources:
                yield message("the source '{source}' is not entered", source=source)
    count = sum(len(part.facts) for part in one.parts)
    if count not in FACTS:
        yield message(
            "it has {count} facts, not {low} to {high}",
            count=Number(count, 0),
            low=Number(FACTS[0], 0),
            high=Number(FACTS[-1], 0),
        )
    shown = max(len(part.in_class()) for part in one.parts) if one.parts else 0
    if shown > MOST_ON_A_PAGE:
        yield message(
            "a page of a class shows at most {most} facts, not {count}",
            most=Number(MOST_ON_A_PAGE, 0),
            count=Number(shown, 0),
        )
    if len(one.parts) not in PARTS or any(len(part.facts) > MOST_OF_PART for part in one.parts):
        yield message(
            "it has {low} to {high} headings with at most {most} facts each",
            low=Number(PARTS[0], 0),
            high=Number(PARTS[-1], 0),
            most=Number(MOST_OF_PART, 0),
        )


def _faults_of_names(key: str, sheets: Sheets, problems: Collection[str]) -> Iterator[Message]:
    one = sheets[key]
    for problem in (*one.goes_with, *one.not_with):
        if problem not in problems:
            yield message("there is no problem '{key}'", key=problem)
    both = sorted({*one.goes_with} & {*one.not_with})
    if both:
        yield message("it goes with {problems} and does not", problems=Listed(tuple(both)))
    for beside in one.not_beside:
        if beside not in sheets or beside == key:
            yield message("there is no other sheet '{key}'", key=beside)
    for name, other in sheets.items():
        if name != key and other.place == one.place:
            yield message("it has the place of '{key}'", key=name)


def _faults_of_numbers(one: Sheet, entries: Mapping[str, AnyEntry]) -> Iterator[Message]:
    asked = {gap for text in one.texts() for gap in GAP.findall(text)}
    for gap in sorted(asked - set(one.numbers) - set(PHONES)):
        yield message("it names no number for '{gap}'", gap=gap)
    for gap in sorted(set(one.numbers) - asked):
        yield message("it never says its number '{gap}'", gap=gap)
    for key in one.numbers.values():
        if not isinstance(entries.get(key), NumberEntry):
            yield message("'{key}' is no number of the content", key=key)
    for text in one.texts():
        if text.count("*") % 2:
            yield message("a star in it has no other: '{text}'", text=text)
        if NUMBER.search(GAP.sub("", text)):
            yield message("it writes a number instead of naming it: '{text}'", text=text)
