"""Rows of the table of flags that are asked together, each made ready for a content once.

Most rows cannot hold of most infants, since nothing is known under the names that they need: a set
of rows finds by those names which are worth asking.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from suffice.assess.rules.question import Question, question_of
from suffice.knowledge.schema import Condition, Flag
from suffice.knowledge.store import Content


class AskedRow(NamedTuple):
    """A row that is ready to be asked.

    Attributes:
        row: As the content has it.
        question: When it holds.
        needs: Names of facts; of each set one must be known, or the row cannot hold.
        is_asked_by_another: Whether another row asks what came of this one: then its verdict counts
            also where it does not hold.
    """

    row: Flag
    question: Question
    needs: tuple[frozenset[str], ...]
    is_asked_by_another: bool


class RowSet:
    """Rows asked together, in order.

    Args:
        rows: The rows.
        content: The content in force; all of its rows may ask about these.
    """

    def __init__(self, rows: Iterable[Flag], content: Content) -> None:
        self.content = content
        kept = tuple(rows)
        asked = {
            one.flag or one.undecided
            for row in (*content.flags, *kept)
            for one in row.when.each()
        }  # fmt: skip
        self._rows = tuple(
            AskedRow(row, question_of(row.when, content), needs_of(row.when), row.code in asked)
            for row in kept
        )
        self._always: list[int] = []
        self._by_name: dict[str, list[int]] = {}
        for place, one in enumerate(self._rows):
            if one.is_asked_by_another or not one.needs:
                self._always.append(place)
                continue
            for name in one.needs[0]:
                self._by_name.setdefault(name, []).append(place)

    def worth_asking(self, known: frozenset[str]) -> Iterator[AskedRow]:
        """The rows that may hold, or that another row asks about, in order.

        Args:
            known: The names under which something is known.
        """
        places = set(self._always)
        for name in known & self._by_name.keys():
            places.update(self._by_name[name])
        for place in sorted(places):
            one = self._rows[place]
            if (
                one.is_asked_by_another
                or len(one.needs) < 2
                or not any(map(known.isdisjoint, one.needs))
            ):
                yield one


def needs_of(condition: Condition) -> tuple[frozenset[str], ...]:
    """Names of facts; of each set one must be known, or the condition cannot hold.

    Of alternatives only the first need of each counts, and none where one of them needs nothing.
    """
    if condition.measure or condition.sign:
        return (frozenset({condition.measure or condition.sign}),)
    if condition.any_of:
        each = [needs_of(part) for part in condition.any_of]
        return (frozenset().union(*(one[0] for one in each)),) if all(each) else ()
    return tuple(need for part in condition.all_of for need in needs_of(part))
