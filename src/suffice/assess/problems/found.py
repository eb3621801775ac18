"""What was found of a family, by key, and what a condition about it comes to.

A key that is not there is not known. What is looked at left and right is found by side; a find without
a side, or of both, counts for each.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Final

import msgspec

from suffice.assess.rules.question import Question, question_of
from suffice.assess.rules.table import Facts, Found, Side
from suffice.assess.rules.truth import Truth
from suffice.knowledge.asked import read_asked
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import Content

SIDES: Final[tuple[Side, ...]] = ("left", "right")
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


def views_of(finds: Finds) -> dict[Side, Facts]:
    """What was found, as each side sees it; without a side, the first of each."""
    sides: tuple[Side, ...] = (*SIDES, "")
    return {
        side: Facts(
            finds={key: one for key, found in finds.items() if (one := on(side, found)) is not None}
        )
        for side in sides
    }


class Row(msgspec.Struct, frozen=True):
    """A condition of the guide, made ready to be asked of what one side sees.

    Attributes:
        question: The condition, with its limits.
        keys: The keys that it asks. What takes it away is not asked for: not known, it changes nothing.
        has_sides: Whether something of it is looked at left and right.
        truth: Whether it is so, without the reasons; false where what takes it away is so.
    """

    question: Question
    keys: frozenset[str]
    has_sides: bool
    truth: Callable[[Facts], Truth]

    @classmethod
    def from_line(cls, when: str, content: Content, unless: str = "") -> Row:
        """A line of the guide with its limits as the content in use has them, and what takes it away."""
        asked = read_asked(when)
        keys = frozenset(one.find for one in asked.single())
        question = question_of(asked, content)
        if not unless:
            has_sides = any(is_by_side(key, content) for key in keys)
            return cls(question, keys, has_sides, question.truth)
        but = cls.from_line(unless, content)

        def truth(view: Facts) -> Truth:
            return Truth.FALSE if but.truth(view) is Truth.TRUE else question.truth(view)

        has_sides = any(is_by_side(key, content) for key in keys | but.keys)
        return cls(question, keys, has_sides, truth)

    def supports(self, view: Facts) -> Iterator[tuple[Condition, Found]]:
        """Every single thing that it asks and that is so, with what was found."""
        grounds = self.question.verdict(view).supports
        return ((one.asked, one.found) for one in grounds if one.found is not None)
