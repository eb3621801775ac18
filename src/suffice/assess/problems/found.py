"""What was found of a family, by key, and what a condition about it comes to.

A key that is not there is not known. What is looked at left and right is found by side; a find without
a side, or of both, counts for each.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final, Literal
from uuid import UUID

import msgspec

from suffice.assess.rules.truth import COMPARE, Truth, negation
from suffice.knowledge.asked import Answered, Asked, Compared, atoms_of
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import Content

Side = Literal["", "left", "right"]
SIDES: Final[tuple[Side, ...]] = ("left", "right")


class Found(msgspec.Struct, frozen=True):
    """One find: answers or a number, on which side, and the entries it rests on."""

    answers: tuple[str, ...] = ()
    number: float | None = None
    side: Side = ""
    entry_ids: tuple[UUID, ...] = ()


Finds = Mapping[str, tuple[Found, ...]]
"""Key to what was found, one find for each side at most."""


def on(side: Side, finds: Iterable[Found]) -> Found | None:
    """What was found on a side; what has no side counts for each."""
    for one in finds:
        if one.side in ("", side) or side == "":
            return one
    return None


def is_by_side(key: str, content: Content) -> bool:
    """Whether something is looked at left and right."""
    one = content.vocabularies[FOLDER].get(key)
    return isinstance(one, Observable) and one.by_side


View = Mapping[str, Found]
"""Key to what was found, as one side sees it."""
Asking = Callable[[View], Truth]


def views_of(finds: Finds) -> dict[Side, View]:
    """What was found, as each side sees it; without a side, the first of each."""
    sides: tuple[Side, ...] = (*SIDES, "")
    return {
        side: {key: one for key, found in finds.items() if (one := on(side, found)) is not None}
        for side in sides
    }


class Row(msgspec.Struct, frozen=True):
    """A condition made ready to be asked: its keys and limits are found once.

    Attributes:
        asked: The condition.
        keys: The keys that it asks.
        limits: Key of a limit to its value.
        has_sides: Whether something of it is looked at left and right.
        truth: Whether it is so, as one side sees it.
    """

    asked: Asked
    keys: frozenset[str]
    limits: Mapping[str, float]
    has_sides: bool
    truth: Asking

    @classmethod
    def from_asked(cls, asked: Asked, content: Content) -> Row:
        """A condition with its limits as the content in use has them."""
        atoms = tuple(atoms_of(asked))
        limits = {
            one.limit: content.constant(one.limit).value
            for one in atoms
            if isinstance(one, Compared)
        }
        keys = frozenset(one.key for one in atoms)
        has_sides = any(is_by_side(key, content) for key in keys)
        return cls(asked, keys, limits, has_sides, asking(asked, limits))

    def of_atom(self, atom: Answered | Compared, view: View) -> Truth:
        """Whether one thing that it asks is so."""
        return asking(atom, self.limits)(view)


def asking(asked: Asked, limits: Mapping[str, float]) -> Asking:
    """A function that says whether a condition is so, as one side sees it."""
    if isinstance(asked, Answered):
        return _answered(asked.key, frozenset(asked.answers))
    if isinstance(asked, Compared):
        return _compared(asked.key, COMPARE[asked.compare], limits[asked.limit])
    parts = tuple(asking(part, limits) for part in asked.parts)
    return _joined(parts, Truth.FALSE if asked.by == "and" else Truth.TRUE)


def _joined(parts: tuple[Asking, ...], settling: Truth) -> Asking:
    """Several joined: 'and' is settled by the first that is false, 'or' by the first that is true."""
    whole = negation(settling)

    def truth(view: View) -> Truth:
        found = whole
        for part in parts:
            one = part(view)
            if one is settling:
                return one
            if one is Truth.CANNOT_TELL:
                found = one
        return found

    return truth


def _answered(key: str, answers: frozenset[str]) -> Asking:
    def truth(view: View) -> Truth:
        found = view.get(key)
        if found is None:
            return Truth.CANNOT_TELL
        return Truth.FALSE if answers.isdisjoint(found.answers) else Truth.TRUE

    return truth


def _compared(key: str, compare: Callable[[float, float], bool], limit: float) -> Asking:
    def truth(view: View) -> Truth:
        found = view.get(key)
        if found is None or found.number is None:
            return Truth.CANNOT_TELL
        return Truth.TRUE if compare(found.number, limit) else Truth.FALSE

    return truth
