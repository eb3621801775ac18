"""The log of a day for the family: a row an hour, a tick a feed, a diaper or a side; marks for a reader.

What is ticked comes back on the page with the same grid, by hand or from a photograph.
"""

from __future__ import annotations

from typing import Final
from uuid import UUID

from suffice.documents.frame import Source, framed
from suffice.documents.page import Blank, Block, Grid, GridHead, Heading, Paper, Paragraph, Pattern
from suffice.documents.speaker import Speaker
from suffice.inference.home_log import grid
from suffice.message import Message, message

TITLE: Final = message("Log of a day: {name}")
HEADING: Final = message("24 hours: tick as you go")
HEADS: Final[dict[str, Message]] = {
    "left": message("left breast"),
    "right": message("right breast"),
    "milk": message("milk given, mL"),
    "expressed": message("my own milk"),
    "donor": message("donor milk"),
    "formula": message("formula"),
    "pumped_left": message("pumped left, mL"),
    "pumped_right": message("pumped right, mL"),
    "wet": message("wet"),
    "black": message("dirty: black"),
    "green": message("dirty: green"),
    "yellow": message("dirty: yellow"),
}
"""What heads each column of the grid."""
SWATCHES: Final[dict[str, tuple[Pattern, ...]]] = {
    "black": ("black",),
    "green": ("green",),
    "yellow": ("yellow",),
}
EXAMPLE: Final = {
    "left": "x",
    "milk": "30",
    "expressed": "x",
    "wet": "x",
    "pumped_left": "20",
    "pumped_right": "25",
}
"""What the row of the example shows."""
WIDE_MM: Final = 16.0
"""A column of at least this width has its head across, a narrower one upright."""


def home_log(source: Source, whose: UUID) -> Paper:
    """The log of a day of one infant.

    Args:
        source: What it is made from.
        whose: The infant.
    """
    infant = source.infant(whose)
    blocks = log_blocks(source.speaker, infant.position if infant else 0)
    title = TITLE.with_params(name=source.named(whose))
    return framed(source, title=title, whose=whose, reader="family", blocks=blocks)


def log_blocks(speaker: Speaker, position: int) -> tuple[Block, ...]:
    """What the sheet says.

    Args:
        speaker: How it speaks.
        position: Of the infant, which the strip names; 0 where it does not matter.
    """
    says = message(
        "*One row is one hour.* Tick each breast, each wet and each dirty diaper. Two in one hour: *write 2*."
        " Write the mL. Tick which milk it was."
    )
    return (
        # The name stands in the head of the page: a long one would push the grid onto a second.
        Heading(speaker.say(HEADING), level=1),
        Paragraph(speaker.emphasised(says)),
        Blank((speaker.say(message("Date at the first row")),)),
        _grid(speaker, position),
    )


def _grid(speaker: Speaker, position: int) -> Grid:
    heads = (
        GridHead(speaker.say(message("from")), is_upright=False),
        *(
            GridHead(
                speaker.say(HEADS[one.name]),
                is_upright=one.width_mm < WIDE_MM,
                swatches=SWATCHES.get(one.name, ()),
            )
            for one in grid.COLUMNS
        ),
    )
    example = (
        speaker.say(EXAMPLE[one.name]) if one.name in EXAMPLE else () for one in grid.COLUMNS
    )
    squares = zip(grid.code_squares(), grid.code_of(position), strict=True)
    return Grid(
        heads=heads,
        hours=tuple(speaker.say(f"{grid.hour_of(row)}:00") for row in range(grid.ROWS)),
        example=(speaker.say(message("example")), *example),
        widths_mm=(grid.HOUR_MM, *(one.width_mm for one in grid.COLUMNS)),
        head_mm=grid.HEAD_MM,
        row_mm=grid.BOX_MM,
        width_mm=grid.WIDTH_MM,
        table_x_mm=grid.TABLE_X_MM,
        mark_mm=(grid.MARK_MM, grid.RING_MM, grid.CORE_MM),
        squares_mm=tuple(
            (place.left_mm, place.top_mm, grid.CODE_MM) for place, bit in squares if bit
        ),
    )
