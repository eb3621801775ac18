"""The log of a day as a grid: what stands where, in mm. Paper and reader take it from here.

The origin is the top left corner of the frame, x to the right, y down. The frame has a mark in each
corner and a strip of squares on its left that says which sheet it is and which way up.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

Kind = Literal["tick", "amount"]
"""What is put into a box: a tick, or a number in handwriting."""


class Column(NamedTuple):
    """A column of boxes: its name, what is put into it, and how wide it is in mm."""

    name: str
    kind: Kind
    width_mm: float


COLUMNS: Final = (
    Column("left", "tick", 10),
    Column("right", "tick", 10),
    Column("milk", "amount", 20),
    Column("expressed", "tick", 9),
    Column("donor", "tick", 9),
    Column("formula", "tick", 9),
    Column("pumped_left", "amount", 17),
    Column("pumped_right", "amount", 17),
    Column("wet", "tick", 11),
    Column("black", "tick", 11),
    Column("green", "tick", 11),
    Column("yellow", "tick", 11),
)
"""The boxes of a row, from the left."""
ROWS: Final = 24
"""One for each hour; the row before the first is an example and is never read."""
FIRST_HOUR: Final = 8
"""The hour of the first row, on the clinic's clock."""
HOUR_MM: Final = 15.0
"""Width of the column that says the hour."""
HEAD_MM: Final = 20.0
"""Height of the heads of the columns."""
BOX_MM: Final = 8.0
"""Height of a row."""
TABLE_X_MM: Final = 10.0
"""Left edge of the table."""
WIDTH_MM: Final = 180.0
"""Of the frame: the text area of a paper."""
HEIGHT_MM: Final = HEAD_MM + BOX_MM * (ROWS + 1)
"""Height of the frame, as tall as the table."""
MARK_MM: Final = 8.0
"""Side of a corner mark: a black square with a white square in it, and a black one in that."""
RING_MM: Final = 1.3
"""How thick the outer square of a mark is."""
CORE_MM: Final = 2.8
"""Side of the inner square of a mark."""
CODE_X_MM: Final = 2.0
"""Left edge of the strip."""
CODE_Y_MM: Final = 60.0
"""Upper edge of its first square."""
CODE_MM: Final = 4.0
"""Side of a square of the strip."""
CODE_STEP_MM: Final = 5.0
"""From one square of the strip to the next."""
CODE_HEAD: Final = (1, 0, 1, 1, 0)
"""How the strip begins: read from its other end it is another one."""
VERSION: Final = 1
"""Of this grid; another grid is another version."""
_VERSION_BITS: Final = 3
_INFANT_BITS: Final = 3


class Place(NamedTuple):
    """A box on the sheet: its left, top, right and bottom edges in mm."""

    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float


def box(row: int, column: int) -> Place:
    """Where a box is; rows and columns count from 0."""
    left = TABLE_X_MM + HOUR_MM + sum(one.width_mm for one in COLUMNS[:column])
    top = HEAD_MM + BOX_MM * (row + 1)
    return Place(left, top, left + COLUMNS[column].width_mm, top + BOX_MM)


def hour_of(row: int) -> int:
    """The hour at which a row begins, 0 to 23."""
    return (FIRST_HOUR + row) % ROWS


def mark_centres() -> tuple[tuple[float, float], ...]:
    """The centres of the marks in mm: top left, top right, bottom right, bottom left."""
    half = MARK_MM / 2
    far_x, far_y = WIDTH_MM - half, HEIGHT_MM - half
    return ((half, half), (far_x, half), (far_x, far_y), (half, far_y))


def code_of(infant: int) -> tuple[int, ...]:
    """The strip of a sheet, from the top: 1 is black.

    Args:
        infant: Position of the infant, 1 for the first-born; 0 where that does not matter.
    """
    version = _bits(VERSION, _VERSION_BITS)
    position = _bits(infant % 2**_INFANT_BITS, _INFANT_BITS)
    body = (*version, *position)
    return (*CODE_HEAD, *body, sum(body) % 2)


def infant_of(code: tuple[int, ...]) -> int | None:
    """The position of the infant that a strip names; None where it is no strip of this grid."""
    for infant in range(2**_INFANT_BITS):
        if code_of(infant) == code:
            return infant
    return None


def code_squares() -> tuple[Place, ...]:
    """Where the squares of the strip are, from the top."""
    count = len(code_of(0))
    return tuple(
        Place(CODE_X_MM, top, CODE_X_MM + CODE_MM, top + CODE_MM)
        for top in (CODE_Y_MM + CODE_STEP_MM * number for number in range(count))
    )


def _bits(number: int, count: int) -> tuple[int, ...]:
    return tuple(number >> place & 1 for place in reversed(range(count)))
