"""A log read from a photograph or a scan: what each box shows, for somebody to confirm.

The picture is decoded in memory, read, and gone with the answer: it is kept nowhere.
"""

from __future__ import annotations

import base64
import io
from typing import TYPE_CHECKING, Final

import msgspec
import numpy as np
from PIL import Image

from suffice.care.photographs.picture import decoded
from suffice.errors import InputError, Problem
from suffice.inference.home_log import grid
from suffice.message import message

if TYPE_CHECKING:
    from suffice.inference.home_log.finding import Picture
    from suffice.inference.home_log.reading import ReadLog

LONGEST_PIXELS: Final = 1800
"""To which a picture is made smaller: a box is some 60 pixels wide then."""
CROP_PIXELS: Final = 96
"""Side of the picture of one box."""
CROP_QUALITY: Final = 80
"""Of the JPEG of a box, of 100."""
WHITE: Final = 255


class ReadBox(msgspec.Struct, frozen=True, kw_only=True):
    """What was seen in one box that is not clearly empty.

    Attributes:
        row: From 0.
        name: Its column.
        is_sure: Whether it is clearly marked.
        crop: The box itself, as a data URI, where somebody has to look at it: a number, or what is not sure.
    """

    row: int
    name: str
    is_sure: bool
    crop: str = ""


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """A sheet as it was read: every box that is not clearly empty, and whose sheet it says it is."""

    boxes: tuple[ReadBox, ...]
    position: int


def read_picture(content: bytes) -> Reading:
    """What a photograph or scan of a log shows.

    Args:
        content: The file that was chosen.

    Raises:
        InputError: PHOTO-002 to PHOTO-004, no picture; LOG-006, the sheet is not found in it.
    """
    # What works on pictures takes 27 ms to import, of every start of the program.
    from suffice.inference.home_log.reading import read_log  # noqa: PLC0415

    with Image.open(io.BytesIO(decoded(content).content)) as opened:
        grey = opened.convert("L")
        grey.thumbnail((LONGEST_PIXELS, LONGEST_PIXELS))
        picture = np.asarray(grey, dtype=float) / WHITE
    found = read_log(picture)
    if found is None:
        raise InputError(_not_found())
    boxes = tuple(
        ReadBox(
            row=row,
            name=column.name,
            is_sure=seen == "marked",
            crop=_crop(picture, found, row, place)
            if seen == "unsure" or column.kind == "amount"
            else "",
        )
        for row, cells in enumerate(found.boxes)
        for place, (column, seen) in enumerate(zip(grid.COLUMNS, cells, strict=True))
        if seen != "empty"
    )
    return Reading(boxes=boxes, position=found.infant)


def _crop(picture: Picture, found: ReadLog, row: int, column: int) -> str:
    from suffice.inference.home_log.finding import sampled  # noqa: PLC0415 -- as above

    place = grid.box(row, column)
    values = sampled(picture, found.to_pixels, place, count=CROP_PIXELS)
    made = Image.fromarray(np.clip(values * WHITE, 0, WHITE).astype(np.uint8))
    wide = round(CROP_PIXELS * (place.right_mm - place.left_mm) / (place.bottom_mm - place.top_mm))
    out = io.BytesIO()
    made.resize((wide, CROP_PIXELS)).save(out, "JPEG", quality=CROP_QUALITY)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode()


def _not_found() -> Problem:
    return Problem(
        code="LOG-006",
        what=message("The sheet is not found in this picture."),
        why=message(
            "All four corner marks and the squares on the left side must be seen, and be sharp."
        ),
        fix=message(
            "Lay the sheet flat, take it from above with all of it in the picture, or type it."
        ),
        where="photo",
    )
