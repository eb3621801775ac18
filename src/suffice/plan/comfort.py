"""What the pathways of the named problems do at the breast and for comfort: steps of the plan's line on the breast."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from suffice.assess.problems.pathway import steps_of, ways_of
from suffice.message import Message, Words
from suffice.plan.known import Asked

AT_THE_BREAST: Final = frozenset(
    {
        "massage",
        "hold",
        "that side",
        "breast temperature",
        "nipple temperature",
        "nipple cream",
        "muscle temperature",
    }
)
"""What a step of a pathway acts on where it belongs to the breast or to comfort."""
FED: Final = "milk"
"""A step may have the infant take milk beside it; feeds, sides and sessions have lines of their own, which nothing here fights."""


def comfort_of(asked: Asked) -> Iterator[Words]:
    """Those steps, each once; of two that fight the one that a rule lets win."""
    guide = asked.content.guide
    named = ((key, one) for key, one in guide.problems.items() if key in asked.problems)
    for step in steps_of(named, guide):
        topics = ways_of(step, guide).keys() - {FED}
        if step.kind == "do" and topics and topics <= AT_THE_BREAST:
            yield Message(step.says)
