"""Answers of one contact that cannot both be so: found to be asked about, never to hold anything up.

Which they are is content (`content/problems/contradictions.toml`). What was not asked contradicts nothing;
what was left of one contact never contradicts what is seen at the next. Both stay on the record.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Final
from uuid import UUID

import msgspec

from suffice.assess.problems.found import SIDES, Finds, Row, is_by_side, views_of
from suffice.assess.problems.known import entered_finds
from suffice.assess.problems.named import Reason
from suffice.assess.problems.observed import observed_finds
from suffice.assess.rules.table import Facts, Found, Side
from suffice.assess.rules.truth import Truth
from suffice.clinical.entry import Birth, Entry, about
from suffice.knowledge.observable import FOLDER, NO, KnownFact, Observable
from suffice.knowledge.store import Content

NOTHING: Final = frozenset({NO, "none", "not_known", "not_seen"})
"""Answers that say that nothing was found, or that nobody could tell."""


class Contradiction(msgspec.Struct, frozen=True):
    """Things that cannot both be so: what the first of them was, and what goes against it."""

    one: tuple[Reason, ...]
    others: tuple[Reason, ...]

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Everything that it rests on."""
        return (*self.one, *self.others)

    @property
    def keys(self) -> frozenset[str]:
        """What was asked."""
        return frozenset(one.key for one in self.reasons)


class _Ready(msgspec.Struct, frozen=True):
    """A row with its conditions made ready; `sides` on which it is compared."""

    when: Row
    also: Row | None
    found: tuple[str, ...]
    both_sides: bool
    sides: tuple[Side, ...]


def contradictions(finds: Finds, content: Content) -> tuple[Contradiction, ...]:
    """What cannot both be so among what was found, each once, in the order of the content."""
    views = views_of(finds)
    found: dict[Contradiction, None] = {}
    for ready in _ready(content):
        if ready.when.keys.isdisjoint(finds):
            continue
        for one in _of_row(ready, views):
            found[one] = None
    return tuple(found)


def contradictions_of(
    entries: Sequence[Entry],
    infants: Sequence[UUID],
    content: Content,
    *,
    as_of: datetime,
    contact_id: UUID,
    since: datetime,
) -> dict[Contradiction, UUID | None]:
    """The contradictions of a contact, to the infant that they are about; None for the parent.

    Args:
        entries: The entries of the family that stand, in order of time.
        infants: Its infants.
        content: The content in use.
        as_of: The time of the question.
        contact_id: The contact.
        since: When it began: of what is no observation, what was entered from then on counts.
    """
    parent = about(entries, None)
    of_parent = observed_finds(parent, content, as_of, contact_id)
    found: dict[Contradiction, UUID | None] = {}
    everybody: Sequence[UUID | None] = infants or (None,)
    for infant_id in everybody:
        own = about(entries, infant_id) if infant_id else ()
        seen = {**of_parent, **observed_finds(own, content, as_of, contact_id)}
        entered = entered_finds(
            [one for one in own if one.entered_at >= since or isinstance(one.fact, Birth)],
            [one for one in parent if one.entered_at >= since],
            content,
            infants_count=len(infants),
        )
        for one in contradictions({**entered, **seen}, content):
            is_infants = any(_is_of_infant(key, content) for key in one.keys)
            found.setdefault(one, infant_id if is_infants else None)
    return found


def _is_of_infant(key: str, content: Content) -> bool:
    word = content.vocabularies[FOLDER].get(key)
    fact: Observable | KnownFact = word if isinstance(word, Observable) else content.known[key]
    return fact.about == "infant"


@lru_cache(maxsize=8)
def _ready(content: Content) -> tuple[_Ready, ...]:
    def row(when: str) -> Row:
        return Row.from_line(when, content)

    made = []
    for one in content.guide.contradictions:
        when, also = row(one.when), row(one.also) if one.also else None
        has_sides = when.has_sides or (also is not None and also.has_sides)
        has_sides = has_sides or any(is_by_side(key, content) for key in one.found)
        sides: tuple[Side, ...] = SIDES if has_sides else ("",)
        made.append(_Ready(when, also, one.found, one.both_sides, sides))
    return tuple(made)


def _of_row(ready: _Ready, views: dict[Side, Facts]) -> Iterator[Contradiction]:
    so = {
        side: tuple(_reasons(ready.when, views[side]))
        for side in ready.sides
        if ready.when.truth(views[side]) is Truth.TRUE
    }
    if ready.both_sides:
        if len(so) == len(ready.sides):
            one = tuple(dict.fromkeys(reason for those in so.values() for reason in those))
            others = {
                reason: None for side in ready.sides for reason in _others(ready, views[side])
            }
            if others:
                yield Contradiction(one, tuple(others))
        return
    for side, one in so.items():
        others_here = tuple(_others(ready, views[side]))
        if others_here:
            yield Contradiction(one, others_here)


def _others(ready: _Ready, view: Facts) -> Iterator[Reason]:
    if ready.also is not None and ready.also.truth(view) is Truth.TRUE:
        yield from _reasons(ready.also, view)
    for key in ready.found:
        found = view.finds.get(key)
        if found is not None and _is_something(found):
            yield Reason(key, found)


def _is_something(found: Found) -> bool:
    """Whether anything was found: a number above 0, or an answer but none."""
    return (found.number or 0) > 0 or not NOTHING.issuperset(found.answers)


def _reasons(row: Row, view: Facts) -> Iterator[Reason]:
    """The single things of a row that are so, each with only the answers that make it so."""
    for asked, found in row.supports(view):
        answers = tuple(one for one in found.answers if one in asked.answers)
        so = msgspec.structs.replace(found, answers=answers) if asked.answers else found
        yield Reason(asked.find, so)
