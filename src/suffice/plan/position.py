"""The position that a plan proposes: the last one that was agreed on, or leaning back where a pathway asks for it."""

from __future__ import annotations

from typing import Final

from suffice.clinical.entry.position import Position
from suffice.plan.known import Asked

LEANING: Final = frozenset({"lean_back"})
"""Instructions of the pathways that have the parent lean back."""


def position_of(asked: Asked) -> Position | None:
    """The position to propose; None where nothing points to one: any that does not hurt is good."""
    last = asked.last
    if last is not None and last.position is not None:
        return last.position
    problems = asked.content.guide.problems
    wanted = any(
        not LEANING.isdisjoint(problems[key].do) for key in asked.problems if key in problems
    )
    return "laid back" if wanted else None
