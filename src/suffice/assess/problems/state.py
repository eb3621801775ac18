"""In which state a problem is, from the truths of its rows.

On one side each row is asked as it is. Where a problem has no sides and is asked about things that have,
one breast is enough to support it, and both are needed to be against it or to exclude it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from enum import IntEnum
from typing import Final, NamedTuple

import msgspec

from suffice.assess.problems.found import Row
from suffice.assess.problems.table import Ready
from suffice.assess.rules.table import Facts, Found, Side
from suffice.assess.rules.truth import Truth, conjunction, disjunction

INTAKE: Final = "intake"
"""The key of what the assessment says about intake: the one place that says whether it is short."""
Views = Mapping[Side, Facts]
Sides = tuple[Side, ...]


class State(IntEnum):
    """How far a problem is supported; the greater the further."""

    EXCLUDED = 0
    AGAINST = 1
    OPEN = 2
    SUPPORTED = 3
    STRONG = 4


class Truths(NamedTuple):
    """What each row of a problem comes to, in the order of the rows, on one side or on all together."""

    strong: tuple[Truth, ...]
    weak: tuple[Truth, ...]
    against: tuple[Truth, ...]
    excludes: tuple[Truth, ...]


NEED_ALL: Final = (False, False, True, True)
"""Of which kind of row it is asked that it is so on each side, in the order of `Truths`."""


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
    """The same where one more thing is known; the very same object where it changes nothing.

    Only rows that ask it and could not be told are asked again: more knowledge never turns what is
    true or false.
    """
    tried = {
        side: msgspec.structs.replace(views[side], finds={**views[side].finds, key: found})
        for side in sides
    }
    changed: list[list[Truth]] | None = None
    for kind, place, row in ready.rows_asking.get(key, ()):
        if truths[kind][place] is not Truth.CANNOT_TELL:
            continue
        ask = all_sides if NEED_ALL[kind] else any_side
        now = ask(row, tried, sides)
        if now is not Truth.CANNOT_TELL:
            changed = changed or [list(one) for one in truths]
            changed[kind][place] = now
    return truths if changed is None else Truths(*(tuple(one) for one in changed))


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
        truth is Truth.TRUE and row.early
        for truth, row in zip(truths.strong, ready.problem.strong, strict=True)
    )
    return not any(early)


def sides_asked(ready: Ready, sided: Collection[str]) -> tuple[Sides, ...]:
    """Each side by itself for what each breast has or not; all together for anything else.

    Args:
        ready: The problem.
        sided: Keys of what was found with its side; where it asks none of them there is one side only.
    """
    if ready.keys.isdisjoint(sided):
        return (("",),)
    return tuple((one,) for one in ready.sides) if ready.problem.by_side else (ready.sides,)
