"""Two people before milk is given: of donor milk, and on a neonatal unit of all.

Both read label and name band aloud. Whoever puts it down is the first; the second is another one, named so that
who it was can be told later, and it is asked wherever milk is put down as given, in a correction too.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Final, Literal
from uuid import UUID

from suffice.clinical.entry import Entry, MilkMoved, MilkStored, Record, standing
from suffice.errors import Problem
from suffice.message import Message, message
from suffice.plan.unit import is_on_unit

Where = Literal["home", "unit"]
"""Whose times for milk hold."""
LETTERS_LEAST: Final = 2
"""A name has at least as many letters; judgement, ours: initials are a name on a ward."""


def where_of(record: Record, as_of: datetime) -> Where:
    """Which profile a family goes by: that of the unit while its infant is on one."""
    return "unit" if is_on_unit(record.entries_at(as_of)) else "home"


def needs_second(stored: MilkStored, where: Where) -> bool:
    """Whether two people read label and name band before it is given: donor milk, and all on a unit."""
    return stored.milk == "donor" or where == "unit"


def words_of_name(name: str) -> frozenset[str]:
    """The words of a name whatever their order, case, accents and marks between them."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    kept = "".join(
        letter if letter.isalnum() else " " for letter in plain if not unicodedata.combining(letter)
    )
    return frozenset(kept.split())


def _run(name: str) -> str:
    """The letters of a name run together: a mark put into a word makes no other name of it."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    return "".join(letter for letter in plain if letter.isalnum())


def problems_of_second(second: str, own_names: Sequence[str]) -> Iterator[Problem]:
    """What is wrong with who is named as the second person.

    Args:
        second: As it was written.
        own_names: What the first one is called: the name to sign in with, and the person's own.
    """
    words = words_of_name(second)
    if sum(letter.isalpha() for word in words for letter in word) < LETTERS_LEAST:
        yield _missing(message("No second person is named."))
    elif any(words <= words_of_name(one) or _run(second) == _run(one) for one in own_names):
        yield _missing(message("“{name}” is your own name.", name=second.strip()[:40]))


def problems_of_given(
    record: Record, entries: Sequence[Entry], people: Mapping[str, str]
) -> Iterator[Problem]:
    """What is wrong with entries that put milk down as given.

    Args:
        record: The record before them.
        entries: What is to be entered; a correction is its first author's act, where milk was given before too.
        people: The own names of people by the names that they sign in with.
    """
    stored = {
        one.id: one.fact
        for one in (*standing(record.entries), *entries)
        if isinstance(one.fact, MilkStored)
    }
    by_id: dict[UUID | None, Entry] = {one.id: one for one in record.entries}
    for one in entries:
        if not isinstance(one.fact, MilkMoved) or one.fact.to != "used" or one.id in by_id:
            continue
        container = stored.get(one.fact.milk_id) if one.fact.milk_id else None
        if container is not None and needs_second(container, where_of(record, one.true_at)):
            first = _first_author(one, by_id)
            yield from problems_of_second(
                one.fact.second or "", [name for name in (first, people.get(first)) if name]
            )


def _first_author(entry: Entry, by_id: Mapping[UUID | None, Entry]) -> str:
    before = by_id.get(entry.replaces)
    while before is not None and isinstance(before.fact, MilkMoved) and before.fact.to == "used":
        entry = before
        before = by_id.get(entry.replaces)
    return entry.entered_by


def _missing(what: Message) -> Problem:
    return Problem(
        code="MILK-003",
        what=what,
        why=message("Two people read label and name band aloud before this milk is given."),
        fix=message("Enter the full name of the other one; the parent may be it."),
        where="second",
    )
