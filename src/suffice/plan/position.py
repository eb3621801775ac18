"""The position and the sides that a plan proposes.

The position is the last one that was agreed on, or leaning back where a pathway asks for it; the sides are both,
but for one that is not fed from until it is healed.
"""

from __future__ import annotations

from typing import Final, Literal

from suffice.clinical.entry import Observation, about
from suffice.clinical.entry.position import Position
from suffice.plan.express import ONE_SIDE
from suffice.plan.known import Asked

Side = Literal["left", "right"]
Sides = Literal["both sides", "left only", "right only"]
BLISTERS: Final = "blisters"
NOT_FED_FROM: Final = frozenset({"grouped", "band"})
"""Answers about blisters of a side with which it is not fed from."""

LEANING: Final = frozenset({"lean_back"})
"""Instructions of the pathways that have the parent lean back."""
BY_PATHWAY: Final = frozenset({"feed_upright_paced"})
"""Instructions that say themselves how the infant is held, for its safety: no other is as good."""


def position_of(asked: Asked) -> Position | None:
    """The position to propose; None where nothing points to one, or where a pathway says how it is held."""
    problems = asked.content.guide.problems
    done = {one for key in asked.problems if key in problems for one in problems[key].do}
    if not BY_PATHWAY.isdisjoint(done):
        return None
    last = asked.last
    if last is not None and last.position is not None:
        return last.position
    return "laid back" if not LEANING.isdisjoint(done) else None


def stopped_sides(asked: Asked) -> frozenset[Side] | None:
    """The sides that are not fed from for now: none; those of the last look; None where it is not known which."""
    if not asked.problems & ONE_SIDE:
        return frozenset()
    last: dict[Side, str] = {}
    for entry in about(asked.entries, None):
        fact = entry.fact
        if isinstance(fact, Observation) and fact.what == BLISTERS and fact.side is not None:
            sides: tuple[Side, ...] = ("left", "right") if fact.side == "both" else (fact.side,)
            last |= dict.fromkeys(sides, str(fact.answer))
    return frozenset(side for side, answer in last.items() if answer in NOT_FED_FROM) or None


def sides_of(stopped: frozenset[Side] | None) -> Sides | None:
    """The sides to feed from; None where that is not known or no side is left."""
    if stopped is None or len(stopped) > 1:
        return None
    if not stopped:
        return "both sides"
    return "right only" if "left" in stopped else "left only"
