"""The position that a plan proposes: the last one that was agreed on, or leaning back where a pathway asks for it."""

from __future__ import annotations

from typing import Final

from suffice.clinical.entry.position import Position
from suffice.plan.known import Asked

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
