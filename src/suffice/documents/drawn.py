"""Our own drawings on papers: each with what it shows in words, and none with a word in it.

The files of ``drawings/`` are black lines on white with one tone, which no meaning rests on. Words stay
outside, so that they are translated and read from either side.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Final

from suffice.documents.page import Drawing, Heading, Items, Paragraph
from suffice.documents.speaker import Speaker, plain
from suffice.message import Message, message

SHOWS: Final[dict[str, Message]] = {
    "hold": message(
        "A parent leans back on a pillow. The baby is on the chest, belly down, with the head at the breast."
        " The parent's hand is on the baby's bottom."
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
