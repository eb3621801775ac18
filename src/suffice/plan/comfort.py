"""What the pathways of the named problems do at the breast and for comfort: steps of the plan's line on the breast."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from suffice.assess.problems.pathway import Step, steps_of, ways_of
from suffice.message import Message, Words
from suffice.plan.known import Asked

AT_THE_BREAST: Final = frozenset(
    {
        "massage",
        "ointment",
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
OF_A_FEED: Final = frozenset({"massage", "hold", "nipple temperature"})
"""What a step acts on that is part of a feed at the breast."""


def comfort_of(asked: Asked) -> Iterator[Words]:
    """Those steps, each once; of two that fight the one that a rule lets win."""
    for step in _steps(asked):
        yield Message(step.says)


def family_steps(asked: Asked, *, at_breast: bool) -> Iterator[Message]:
    """The same for the family's page, in its words.

    Args:
        asked: What is known.
        at_breast: Whether the plan has it at the breast; where not, what is done there is left out.
    """
    guide = asked.content.guide
    for step in _steps(asked):
        says = guide.instructions[step.key].family
        is_of_feed = not OF_A_FEED.isdisjoint(ways_of(step, guide))
        if says and (at_breast or not is_of_feed):
            yield Message(says)


def _steps(asked: Asked) -> Iterator[Step]:
    guide = asked.content.guide
    named = ((key, one) for key, one in guide.problems.items() if key in asked.problems)
    for step in steps_of(named, guide):
        topics = ways_of(step, guide).keys() - {FED}
        if step.kind == "do" and topics and topics <= AT_THE_BREAST:
            yield step
