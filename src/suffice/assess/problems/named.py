"""Every problem with its state, its reasons and its place among the others.

A problem is supported strongly, supported, open, against or excluded. What excludes it outranks all;
what is against it takes one step from what supports it. What is not known decides nothing. A problem
whose name calms is not named while it is not known whether intake is short.

The order: urgency, then strength, then how many independent parts of the contact support it, then
the order of the content. No probability is made up.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Final, NamedTuple

import msgspec

from suffice.assess.problems.ask_next import Question, Weighing, ask_next
from suffice.assess.problems.found import Finds, Row, views_of
from suffice.assess.problems.state import (
    INTAKE,
    Sides,
    State,
    Views,
    all_sides,
    any_side,
    sides_asked,
    state_from,
    truths_of,
    waits_for_intake,
)
from suffice.assess.problems.supply import Split, supply_or_transfer
from suffice.assess.problems.table import Ready, table_of
from suffice.assess.rules.table import Found, Side
from suffice.assess.rules.truth import Truth
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.problem import HandOver, Problem
from suffice.knowledge.schema import LEVELS, Level
from suffice.knowledge.store import Content

MOST_NOT_KNOWN: Final = 5
"""How many unknown things a problem names."""


class Reason(msgspec.Struct, frozen=True):
    """One thing that was found, with its key."""

    key: str
    found: Found


class Weighed(msgspec.Struct, frozen=True, kw_only=True):
    """One problem, weighed.

    Attributes:
        key: Its key.
        problem: As the content has it.
        state: Its state, on the side where it is furthest supported.
        sides: The sides on which it is named; empty where it is not named, has no sides, or nobody said
            on which side.
        level: How urgent it is now.
        within_h: Within how many hours, where only a hand-over makes it so urgent; None otherwise.
        supports: What supports it.
        against: What is against it or excludes it.
        not_known: Keys of what is not known and could decide, the first to ask first.
        parts_count: How many independent parts of the contact support it.
        waits_for_intake: Whether it is not named only because intake is not known.
        hand_over: To whom it is handed over now.
        open_flags: Codes of its flags that are open.
        is_settled: Whether all that settles it is so today; for how long is said in words.
    """

    key: str
    problem: Problem
    state: State
    sides: tuple[Side, ...]
    level: Level
    within_h: float | None
    supports: tuple[Reason, ...]
    against: tuple[Reason, ...]
    not_known: tuple[str, ...]
    parts_count: int
    waits_for_intake: bool
    hand_over: tuple[HandOver, ...]
    open_flags: tuple[str, ...]
    is_settled: Truth

    @property
    def is_named(self) -> bool:
        """Whether it is supported, so that it is named."""
        return self.state > State.OPEN


class NamedProblems(msgspec.Struct, frozen=True, kw_only=True):
    """All problems of a family or of one infant and its parent.

    Attributes:
        problems: Every problem; the named ones first, in their order.
        split: Supply or transfer?
        ask: What to ask next, the most telling first.
    """

    problems: tuple[Weighed, ...]
    split: Split
    ask: tuple[Question, ...]

    @property
    def named(self) -> tuple[Weighed, ...]:
        """Those that are supported."""
        return tuple(one for one in self.problems if one.is_named)


def name_problems(
    finds: Finds,
    content: Content,
    *,
    flags: Mapping[str, Level] | None = None,
    skipped: Collection[str] = (),
) -> NamedProblems:
    """All problems weighed, from what was found.

    Args:
        finds: What was found, by key.
        content: The content in use.
        flags: Codes of the open flags to their levels.
        skipped: Keys that are not to be asked.
    """
    table = table_of(content)
    views = views_of(finds)
    sided = {key for key, found in finds.items() if any(one.side for one in found)}
    weighings = {
        ready.key: _weighing(ready, views, sided, is_intake_known=INTAKE in finds)
        for ready in table.problems
    }
    weighed = [_weighed(one, finds, views, content, flags or {}) for one in weighings.values()]
    place = {ready.key: ready.place for ready in table.problems}
    weighed.sort(
        key=lambda one: (
            not one.is_named,
            LEVELS.index(one.level) if one.is_named else 0,
            not (one.is_named and one.problem.leads),
            -one.state,
            -one.parts_count,
            place[one.key],
        )
    )
    return NamedProblems(
        problems=tuple(weighed),
        split=supply_or_transfer(finds, content),
        ask=ask_next(table, finds, views, weighings, skipped),
    )


class Handing(NamedTuple):
    """A hand-over that a named problem asks for, with what makes it so."""

    key: str
    problem: Problem
    over: HandOver
    reasons: tuple[Reason, ...]


def hand_overs_of(finds: Finds, content: Content, asked: Collection[str]) -> Iterator[Handing]:
    """The hand-overs that the named problems ask for because of one of these keys, offers left out.

    Args:
        finds: What was found, by key.
        content: The content in use.
        asked: Keys of what was found; a hand-over that asks none of them is not looked at.
    """
    views = views_of(finds)
    sided = {key for key, found in finds.items() if any(one.side for one in found)}
    for ready in table_of(content).problems:
        rows = [
            (over, row)
            for over, row in ready.hand_over
            if not over.is_offer and not row.keys.isdisjoint(asked)
        ]
        if not rows:
            continue
        weighing = _weighing(ready, views, sided, is_intake_known=INTAKE in finds)
        if weighing.state <= State.OPEN:
            continue
        sides = _sides_of(weighing)
        for over, row in rows:
            if any_side(row, views, sides) is Truth.TRUE:
                yield Handing(ready.key, ready.problem, over, _reasons((row,), views, sides))


def _sides_of(weighing: Weighing) -> Sides:
    """The sides on which a problem is furthest supported."""
    where = (sides for sides, _, state in weighing.by_side if state is weighing.state)
    return tuple(dict.fromkeys(side for sides in where for side in sides))


def _weighing(
    ready: Ready, views: Views, sided: Collection[str], *, is_intake_known: bool
) -> Weighing:
    by_side = []
    for sides in sides_asked(ready, sided):
        truths = truths_of(ready, views, sides)
        state = state_from(ready, truths, is_intake_known=is_intake_known)
        by_side.append((sides, truths, state))
    return Weighing(ready, tuple(by_side), max(state for _, _, state in by_side))


def _weighed(
    weighing: Weighing, finds: Finds, views: Views, content: Content, flags: Mapping[str, Level]
) -> Weighed:
    ready, state = weighing.ready, weighing.state
    problem = ready.problem
    where = [one for one in weighing.by_side if one[2] is state]
    asked = _sides_of(weighing)
    named = state > State.OPEN
    is_asked = not ready.keys.isdisjoint(finds)
    hand_over = tuple(
        one for one, row in ready.hand_over if named and any_side(row, views, asked) is Truth.TRUE
    )
    open_flags = tuple(code for code in problem.flags if code in flags)
    speak = [
        row
        for _, truths, _ in where
        for rows, came in ((ready.strong, truths.strong), (ready.weak, truths.weak))
        for row, truth in zip(rows, came, strict=True)
        if truth is Truth.TRUE
    ]
    supports = _reasons(speak, views, asked)
    against = _reasons((*ready.excludes, *ready.against), views, asked) if is_asked else ()
    levels = [problem.level, *(flags[one] for one in open_flags)]
    level = min((*levels, *(one.level for one in hand_over)), key=LEVELS.index)
    soonest_h = min((one.within_h for one in hand_over if one.level == level), default=None)
    is_known = INTAKE in finds
    return Weighed(
        key=ready.key,
        problem=problem,
        state=state,
        sides=asked if named and problem.by_side and asked != ("",) else (),
        level=level,
        within_h=None if level in levels else soonest_h,
        supports=supports,
        against=against,
        not_known=tuple(_not_known(ready, views, asked))[:MOST_NOT_KNOWN],
        parts_count=len({_part_of(one.key, content) for one in supports}),
        waits_for_intake=bool(supports)
        and any(
            waits_for_intake(ready, truths, is_intake_known=is_known) for _, truths, _ in where
        ),
        hand_over=hand_over,
        open_flags=open_flags,
        is_settled=all_sides(ready.settled, views, asked),
    )


def _reasons(rows: Iterable[Row], views: Views, sides: Sides) -> tuple[Reason, ...]:
    """Every single thing that is so in a row that is so, once."""
    reasons: dict[Reason, None] = {}
    for row in rows:
        for side in sides:
            if row.truth(views[side]) is not Truth.TRUE:
                continue
            for asked, found in row.supports(views[side]):
                reasons[Reason(asked.find, found)] = None
    return tuple(reasons)


def _not_known(ready: Ready, views: Views, sides: Sides) -> Iterator[str]:
    """What is not known and could decide: what is asked first, then what a row waits for."""
    if ready.keys.isdisjoint(views[""].finds):
        yield from ready.problem.ask
        return
    waiting = {
        key
        for row in (*ready.strong, *ready.excludes)
        for side in sides
        if row.truth(views[side]) is Truth.CANNOT_TELL
        for key in row.keys
        if key not in views[side].finds
    }
    asked = [key for key in ready.problem.ask if key not in views[""].finds]
    yield from dict.fromkeys([*asked, *sorted(waiting)])


def _part_of(key: str, content: Content) -> str:
    one = content.vocabularies[FOLDER].get(key)
    return one.part if isinstance(one, Observable) else content.known[key].follows_from
