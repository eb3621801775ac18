"""What the pathways of the named problems do at the breast and for comfort: steps of the plan's line on the breast."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from suffice.assess.problems.pathway import Step, steps_of, ways_of
from suffice.message import Message, Words, message
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


FOR_FAMILY: Final[dict[str, Message]] = {
    "soften_areola": message(
        "Before your baby latches, press back around the nipple for a minute. Not on a red spot."
    ),
    "compress": message("When your baby pauses, press the breast gently."),
    "lean_back": message("Let the first rush of milk run into a cloth."),
    "feed_upright_paced": message(
        "Pause every few swallows. Stop at once if color or breath changes, and call us."
    ),
    "warm_nipple": message(
        "Cover the nipple at once after the feed with a dry cloth or your palm."
    ),
    "stop_contact": message(
        "Put no new cream, pad or soap on the nipple. Water and a plain ointment are enough."
    ),
    "clean_wound": message("Wash the sore spot gently with water once a day. Use clean pads."),
    "cold_to_breast": message("After a feed put something cold on the breast, not on the nipple."),
    "support_arm": message("Support your arm and back. Warm the sore muscle, not the breast."),
}
"""The same steps as a family reads them, by the key of the instruction; a side and how the infant is held stand in lines of their own."""
AFTER_A_FEED: Final = frozenset({"warm_nipple", "stop_contact", "clean_wound", "cold_to_breast"})
"""Those of them that come when the feed is over, the extra milk too."""
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
        says = FOR_FAMILY.get(step.key)
        is_of_feed = not OF_A_FEED.isdisjoint(ways_of(step, guide))
        if says is not None and (at_breast or not is_of_feed):
            yield says


def _steps(asked: Asked) -> Iterator[Step]:
    guide = asked.content.guide
    named = ((key, one) for key, one in guide.problems.items() if key in asked.problems)
    for step in steps_of(named, guide):
        topics = ways_of(step, guide).keys() - {FED}
        if step.kind == "do" and topics and topics <= AT_THE_BREAST:
            yield step
