"""What to ask next: the unknown thing whose answer would change most.

An answer is tried only where a row waits for it. What would change urgency, by naming a problem or by handing
one that is named to somebody sooner, goes before what would change a leading problem, that before anything
else; then what changes more problems; then what a problem asks first.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Final

import msgspec

from suffice.assess.problems.found import Finds
from suffice.assess.problems.state import (
    INTAKE,
    Sides,
    State,
    Truths,
    Views,
    any_side,
    state_from,
    truths_with,
)
from suffice.assess.problems.table import Ready, Table
from suffice.assess.rules.truth import Truth
from suffice.knowledge.schema import LEVELS

SOON_H: Final = 48.0
"""A hand-over within so many hours is urgent enough to be asked about first (judgement, ours)."""
MOST_TRIED: Final = 24
"""How many keys are tried; those that lead stand first."""


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to ask, and why.

    Attributes:
        key: What to ask.
        problems: The problems that its answer would change, or hand over sooner, the most urgent first.
        level_place: Place of the most urgent level that it could bring, the first is 0; only problems
            count of which something was found, so that nobody is asked about every danger there is.
        changes_leading: Whether it would change a problem that is supported now.
    """

    key: str
    problems: tuple[str, ...]
    level_place: int
    changes_leading: bool


class Weighing(msgspec.Struct, frozen=True):
    """A problem as it was weighed: on which sides, what its rows came to there, and its furthest state."""

    ready: Ready
    by_side: tuple[tuple[Sides, Truths, State], ...]
    state: State


def ask_next(
    table: Table,
    finds: Finds,
    views: Views,
    weighings: Mapping[str, Weighing],
    skipped: Collection[str] = (),
) -> tuple[Question, ...]:
    """The questions that would change something, the most telling first.

    Args:
        table: The problems.
        finds: What is known.
        views: The same as each side sees it.
        weighings: Key of a problem to how it was weighed.
        skipped: Keys that are not to be asked.
    """
    near = {key for key, one in weighings.items() if _is_near(one, finds, weighings)}
    leading = {
        key for key, one in weighings.items() if one.ready.problem.leads and one.state > State.OPEN
    }
    order: dict[str, tuple[bool, bool, int, int]] = {}
    for ready in table.problems:
        state, is_far = weighings[ready.key].state, ready.key not in near
        # A cause waits for what it may cause; beside what forbids all else nothing else is asked.
        above = ready.problem.cause_of
        waits = above and max(state, weighings[above].state) <= State.OPEN
        if state < State.OPEN or waits or (leading and ready.key not in leading):
            continue
        asked_first = len(ready.problem.ask)
        # Of what is not named nothing is handed over.
        waiting = ready.keys.union(ready.handing if state > State.OPEN else ())
        for place, key in enumerate((*ready.problem.ask, *sorted(waiting))):
            if key not in skipped and _can_be_asked(key, table, finds):
                # What each problem asks first goes before what else any of them asks.
                rank = (is_far, place >= asked_first, -state, place)
                order[key] = min(order.get(key, rank), rank)
    tried = sorted(order, key=lambda key: order[key])[:MOST_TRIED]
    questions = [_tried(key, table, finds, views, weighings, near) for key in tried]
    useful = sorted(
        (
            one
            for one in questions
            if one.problems and (not leading or not leading.isdisjoint(one.problems))
        ),
        key=lambda one: (
            one.level_place,
            not one.changes_leading,
            # Intake decides what may be named at all, so among equals it goes first.
            one.key != INTAKE,
            -len(one.problems),
            order[one.key],
        ),
    )
    return (*(first := tuple(_each_new(useful))), *(one for one in useful if one not in first))


def _can_be_asked(key: str, table: Table, finds: Finds) -> bool:
    """Whether it is not known, and somebody can be asked: what follows from elsewhere by what it follows from."""
    by = table.asked_by.get(key, key)
    return key not in finds and bool(by) and by not in finds


def _each_new(questions: Iterable[Question]) -> Iterator[Question]:
    """Those that bring a problem which no earlier one does."""
    brought: set[str] = set()
    for one in questions:
        if not brought.issuperset(one.problems):
            brought.update(one.problems)
            yield one


def _tried(
    key: str,
    table: Table,
    finds: Finds,
    views: Views,
    weighings: Mapping[str, Weighing],
    near: Collection[str],
) -> Question:
    changed = [
        ready
        for ready in table.asking.get(key, ())
        if weighings[ready.key].state is not State.EXCLUDED
        and _changes(key, weighings[ready.key], finds, views)
    ]
    levels = [LEVELS.index(one.problem.level) for one in changed if one.key in near]
    for ready in table.handing.get(key, ()):
        if (sooner := _sooner(key, weighings[ready.key], views)) is not None:
            levels.append(sooner)
            changed += [ready] if ready not in changed else []
    changed.sort(key=lambda one: (LEVELS.index(one.problem.level), one.place))
    return Question(
        key=key,
        problems=tuple(one.key for one in changed),
        level_place=min(levels, default=len(LEVELS)),
        changes_leading=any(weighings[one.key].state > State.OPEN for one in changed),
    )


def _sooner(key: str, weighing: Weighing, views: Views) -> int | None:
    """Place of the level to which some answer would raise a named problem by handing it over; None for none."""
    if weighing.state <= State.OPEN:
        return None
    ready = weighing.ready
    sides = tuple(
        dict.fromkeys(
            side
            for those, _, state in weighing.by_side
            if state is weighing.state
            for side in those
        )
    )
    so = [over.level for over, row in ready.hand_over if any_side(row, views, sides) is Truth.TRUE]
    now = min(LEVELS.index(level) for level in (ready.problem.level, *so))
    tried = [
        {
            side: msgspec.structs.replace(views[side], finds={**views[side].finds, key: found})
            for side in sides
        }
        for found in ready.handing_answers[key]
    ]
    places = (
        LEVELS.index(over.level)
        for over, row in ready.handing[key]
        if LEVELS.index(over.level) < now
        and over.within_h <= SOON_H
        and any(any_side(row, then, sides) is Truth.TRUE for then in tried)
    )
    return min(places, default=None)


def _is_near(weighing: Weighing, finds: Finds, weighings: Mapping[str, Weighing]) -> bool:
    """Whether it is named, can be a cause of one that is, or something was found that few families have."""
    cause_of = weighing.ready.problem.cause_of
    return (
        weighing.state > State.OPEN
        or any(_tells(key, finds) for key in weighing.ready.telling)
        or (bool(cause_of) and weighings[cause_of].state > State.OPEN)
    )


def _tells(key: str, finds: Finds) -> bool:
    """Whether something was found, and not only that it is absent."""
    return any(one.answers != ("no",) for one in finds.get(key, ()))


def _changes(key: str, weighing: Weighing, finds: Finds, views: Views) -> bool:
    """Whether some answer would name the problem, or take its name away."""
    ready, now = weighing.ready, weighing.state
    is_known = key == INTAKE or INTAKE in finds
    for found in ready.answers[key]:
        then = max(
            state_from(ready, more, is_intake_known=is_known)
            if (more := truths_with(ready, truths, key, found, views, sides)) is not truths
            or key == INTAKE
            else state
            for sides, truths, state in weighing.by_side
        )
        if then is not now and max(then, now) > State.OPEN:
            return True
    return False
