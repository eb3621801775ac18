"""The problems of a content made ready to be asked, once for each content."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Final

import msgspec

from suffice.assess.problems.found import SIDES, Row, is_by_side
from suffice.assess.rules.table import Found, Side
from suffice.knowledge.problem import HandOver, Problem, Statement
from suffice.knowledge.store import Content

APART: Final = 1.0
"""How far from a limit a number is tried: only the side decides."""


class Ready(msgspec.Struct, frozen=True, kw_only=True):
    """A problem with its rows ready to be asked.

    Attributes:
        key: Its key.
        place: Its place in the content.
        problem: As it is written.
        sides: The sides on which it is asked; one without a name where nothing of it has sides.
        answers: Key to the answers that the statements tell apart, for a number one on each side of a
            limit.
        keys: All keys that its statements ask.
        rows_asking: Key to the rows that ask it: the place of their kind (strong, weak, against, excludes),
            their place in it, and the row.
        handing: Key to the hand-overs that ask it.
        handing_answers: The same keys to the answers that the hand-overs tell apart.
        telling: Those of what supports it that not every family has, as an age or a weight.
    """

    key: str
    place: int
    problem: Problem
    sides: tuple[Side, ...]
    strong: tuple[Row, ...]
    weak: tuple[Row, ...]
    against: tuple[Row, ...]
    excludes: tuple[Row, ...]
    answers: Mapping[str, tuple[Found, ...]]
    hand_over: tuple[tuple[HandOver, Row], ...]
    settled: Row
    keys: frozenset[str]
    telling: frozenset[str]
    rows_asking: Mapping[str, tuple[tuple[int, int, Row], ...]]
    handing: Mapping[str, tuple[tuple[HandOver, Row], ...]]
    handing_answers: Mapping[str, tuple[Found, ...]]


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """All problems, ready.

    Attributes:
        problems: In their order.
        asking: Key to the problems whose statements ask it.
        handing: Key to the problems whose hand-overs ask it.
        asked_by: Key of what is known from elsewhere to what is asked in its stead; empty where nothing is.
    """

    problems: tuple[Ready, ...]
    asking: Mapping[str, tuple[Ready, ...]]
    handing: Mapping[str, tuple[Ready, ...]]
    asked_by: Mapping[str, str]


@lru_cache(maxsize=8)
def table_of(content: Content) -> Table:
    """The problems of a content, with the limits that are in use."""
    problems = tuple(
        _ready(place, key, one, content)
        for place, (key, one) in enumerate(content.guide.problems.items())
    )
    asking: dict[str, tuple[Ready, ...]] = {}
    handing: dict[str, tuple[Ready, ...]] = {}
    for one in problems:
        for key in sorted(one.keys):
            asking[key] = (*asking.get(key, ()), one)
        for key in one.handing:
            handing[key] = (*handing.get(key, ()), one)
    asked_by = {key: one.asked_by for key, one in content.known.items()}
    return Table(problems=problems, asking=asking, handing=handing, asked_by=asked_by)


def _ready(place: int, key: str, problem: Problem, content: Content) -> Ready:
    def those(statements: Iterable[Statement]) -> tuple[Row, ...]:
        return tuple(Row.from_line(one.when, content, one.unless) for one in statements)

    strong, weak = those(problem.strong), those(problem.weak)
    against, excludes = those(problem.against), those(problem.excludes)
    hand_over = tuple((one, Row.from_line(one.when, content)) for one in problem.hand_over)
    settled = Row.from_line(problem.settled.when, content)
    rows = (*strong, *weak, *against, *excludes)
    keys = frozenset[str]().union(*(one.keys for one in rows))
    handed = frozenset[str]().union(*(one.keys for _, one in hand_over))
    asked = keys | handed | settled.keys
    has_sides = any(is_by_side(one, content) for one in asked)
    return Ready(
        key=key,
        place=place,
        problem=problem,
        sides=SIDES if has_sides or problem.by_side else ("",),
        strong=strong,
        weak=weak,
        against=against,
        excludes=excludes,
        answers={key: _answers(key, rows, content) for key in sorted(keys)},
        hand_over=hand_over,
        settled=settled,
        keys=keys,
        rows_asking=_rows_asking((strong, weak, against, excludes)),
        handing={
            key: tuple(one for one in hand_over if key in one[1].keys) for key in sorted(handed)
        },
        handing_answers={
            key: _answers(key, [one for _, one in hand_over], content) for key in sorted(handed)
        },
        telling=_telling((*strong, *weak), content),
    )


def _rows_asking(
    kinds: tuple[tuple[Row, ...], ...],
) -> dict[str, tuple[tuple[int, int, Row], ...]]:
    found: dict[str, list[tuple[int, int, Row]]] = {}
    for kind, rows in enumerate(kinds):
        for place, row in enumerate(rows):
            for key in row.keys:
                found.setdefault(key, []).append((kind, place, row))
    return {key: tuple(rows) for key, rows in found.items()}


def _telling(rows: tuple[Row, ...], content: Content) -> frozenset[str]:
    found = frozenset[str]().union(*(one.keys for one in rows))
    known = {key for key, one in content.known.items() if not (one.signs or one.flags)}
    return found - known


def _answers(key: str, rows: Iterable[Row], content: Content) -> tuple[Found, ...]:
    found: dict[Found, None] = {}
    for row in rows:
        for one in row.question.condition.single():
            if one.find != key:
                continue
            found |= dict.fromkeys(Found((answer,)) for answer in one.answers)
            if one.limit:
                limit = content.constant(one.limit).value
                found |= dict.fromkeys(
                    Found(number=near) for near in (limit - APART, limit + APART)
                )
    return tuple(found)
