"""Our own drawings on papers: each with what it shows in words, and none with a word in it.

The files of ``drawings/`` are black lines on white with one tone, which no meaning rests on. Words stay
outside, so that they are translated and read from either side.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Final

from suffice.documents.page import Drawing, Heading, Items, Paragraph, Picture, Runs
from suffice.documents.speaker import Speaker, plain
from suffice.message import Message, message

SHOWS: Final[dict[str, Message]] = {
    "position_laid_back": message(
        "A parent leans back on a pillow. The baby is on the chest, belly down, with the head at the breast."
        " The parent's hand is on the baby's bottom."
    ),
    "position_cross_cradle": message(
        "A parent sits. The baby is across the body, belly to belly. The arm of the other side carries it, with"
        " the hand behind its shoulders. The other hand is under the breast."
    ),
    "position_cradle": message(
        "A parent sits. The baby is across the body, belly to belly. The head rests on the forearm of the side"
        " that it feeds from, and the hand is at its thigh."
    ),
    "position_under_arm": message(
        "A parent sits with a pillow at one side. The baby is on it, under the arm, with its feet behind. The"
        " hand of that arm is behind its shoulders. The other hand is at the breast."
    ),
    "position_side_lying": message(
        "A bed seen from above. Parent and baby are on their sides, face to face and belly to belly. There is a"
        " pillow under the parent's head and one behind the back, and none near the baby."
    ),
    "position_upright": message(
        "A parent sits on a chair, seen from the side. The baby sits astride the thigh, face and belly to the"
        " parent, with the mouth at the breast. One arm is around its back, the other hand behind its shoulders."
    ),
    "latch": message(
        "A baby at the breast, seen from the side. The mouth is wide open and the lips turn out. The chin is"
        " in the breast and the nose is free. More dark skin shows above the mouth than below."
    ),
    "express": message(
        "Two pictures of a hand around a breast, like the letter C, back from the nipple. First thumb and"
        " fingers press back to the chest. Then they press together, and drops of milk come."
    ),
}
"""What each drawing shows."""


POSITIONS: Final[dict[str, str]] = {
    "laid back": "position_laid_back",
    "cross-cradle": "position_cross_cradle",
    "cradle": "position_cradle",
    "under the arm": "position_under_arm",
    "side-lying": "position_side_lying",
    "upright": "position_upright",
}
"""A position as it is entered, to its drawing."""
WIDE: Final = frozenset({"express"})
"""Drawings of two pictures beside each other."""


@cache
def svg_of(name: str) -> str:
    """A drawing by its name."""
    return files("suffice.documents").joinpath("drawings", f"{name}.svg").read_text("utf-8")


def drawn(
    name: str, speaker: Speaker, *, share: float, beside: tuple[Heading | Paragraph | Items, ...]
) -> Drawing:
    """A drawing with what goes with it.

    Args:
        name: Its name.
        speaker: How the paper speaks.
        share: Share of the width that it takes.
        beside: What stands next to it.
    """
    return Drawing(
        svg=svg_of(name), alt=plain(speaker.text(SHOWS[name])), share=share, beside=beside
    )


def pictured(name: str, speaker: Speaker, caption: Runs = ()) -> Picture:
    """A drawing with what stands under it."""
    return Picture(svg=svg_of(name), alt=plain(speaker.text(SHOWS[name])), said=caption)
