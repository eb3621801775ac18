"""In which state a problem is, from the truths of its rows.

On one side each row is asked as it is. Where a problem has no sides and is asked about things that have,
one breast is enough to support it, and both are needed to be against it or to exclude it.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum
from typing import Final

import msgspec

from suffice.assess.problems.found import Found, Row, Side, View
from suffice.assess.problems.table import Ready
from suffice.assess.rules.truth import Truth, conjunction, disjunction

INTAKE: Final = "intake"
"""The key of what the assessment says about intake: the one place that says whether it is short."""
Views = Mapping[Side, View]
Sides = tuple[Side, ...]


class State(IntEnum):
    """How far a problem is supported; the greater the further."""

    EXCLUDED = 0
    AGAINST = 1
    OPEN = 2
    SUPPORTED = 3
    STRONG = 4


class Truths(msgspec.Struct, frozen=True):
    """What each row of a problem comes to, in the order of the rows, on one side or on all together."""

    strong: tuple[Truth, ...]
    weak: tuple[Truth, ...]
    against: tuple[Truth, ...]
    excludes: tuple[Truth, ...]


def any_side(row: Row, views: Views, sides: Sides) -> Truth:
    """Whether a row is so on one side at least."""
    if not row.has_sides or len(sides) == 1:
        return row.truth(views[sides[0]])
    return disjunction([row.truth(views[side]) for side in sides])


def all_sides(row: Row, views: Views, sides: Sides) -> Truth:
    """Whether a row is so on each side."""
    if not row.has_sides or len(sides) == 1:
        return row.truth(views[sides[0]])
    return conjunction([row.truth(views[side]) for side in sides])


def truths_of(ready: Ready, views: Views, sides: Sides) -> Truths:
    """What each row of a problem comes to."""
    return Truths(
        tuple([any_side(row, views, sides) for row in ready.strong]),
        tuple([any_side(row, views, sides) for row in ready.weak]),
        tuple([all_sides(row, views, sides) for row in ready.against]),
        tuple([all_sides(row, views, sides) for row in ready.excludes]),
    )


def truths_with(
    ready: Ready, truths: Truths, key: str, found: Found, views: Views, sides: Sides
) -> Truths:
    """The same where one more thing is known: only the rows that ask it are asked again."""
    tried = {side: {**views[side], key: found} for side in sides}

    def again(
        rows: tuple[Row, ...], were: tuple[Truth, ...], *, needs_all: bool
    ) -> tuple[Truth, ...]:
        ask = all_sides if needs_all else any_side
        return tuple(
            [
                ask(row, tried, sides) if key in row.keys else was
                for row, was in zip(rows, were, strict=True)
            ]
        )

    return Truths(
        again(ready.strong, truths.strong, needs_all=False),
        again(ready.weak, truths.weak, needs_all=False),
        again(ready.against, truths.against, needs_all=True),
        again(ready.excludes, truths.excludes, needs_all=True),
    )


def state_from(ready: Ready, truths: Truths, *, is_intake_known: bool) -> State:
    """The state that follows from the rows."""
    if Truth.TRUE in truths.excludes:
        return State.EXCLUDED
    is_against = Truth.TRUE in truths.against
    if Truth.TRUE in truths.strong:
        state = State(State.STRONG - is_against)
    elif Truth.TRUE in truths.weak:
        state = State(State.SUPPORTED - is_against)
    elif is_against or not (Truth.CANNOT_TELL in truths.strong or Truth.CANNOT_TELL in truths.weak):
        return State.AGAINST
    else:
        return State.OPEN
    if waits_for_intake(ready, truths, is_intake_known=is_intake_known):
        return State.OPEN
    return state


def waits_for_intake(ready: Ready, truths: Truths, *, is_intake_known: bool) -> bool:
    """Whether its name would calm while it is not known whether intake is short."""
    if is_intake_known or not ready.problem.reassures:
        return False
    early = (
        truth is Truth.TRUE and said.early
        for truth, said in zip(truths.strong, ready.problem.strong, strict=True)
    )
    return not any(early)


def sides_asked(ready: Ready) -> tuple[Sides, ...]:
    """Each side by itself for what each breast has or not; all together for anything else."""
    return tuple((one,) for one in ready.sides) if ready.problem.by_side else (ready.sides,)
