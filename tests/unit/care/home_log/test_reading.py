"""A file as a reading of a log: every box that is not empty, a piece of the picture where somebody has to look."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from suffice.care.home_log.reading import read_picture
from suffice.errors import InputError
from suffice.inference.home_log import grid
from tool_modules import tool_module

PICTURES = tool_module("validate.log_pictures")
NAMES = [one.name for one in grid.COLUMNS]


def file_of(boxes, bad=None, form: str = "JPEG") -> bytes:
    rng = np.random.default_rng(8)
    values = PICTURES.photographed(rng, PICTURES.ticked(rng, boxes), bad or PICTURES.Bad())
    out = io.BytesIO()
    Image.fromarray((values * 255).astype(np.uint8)).save(out, form)
    return out.getvalue()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_ticks_and_numbers_come_back_by_row_and_column(form: str) -> None:
    boxes = frozenset({(3, NAMES.index("wet")), (7, NAMES.index("milk"))})
    reading = read_picture(file_of(boxes, form=form))
    assert {(one.row, one.name, one.is_sure) for one in reading.boxes} == {
        (3, "wet", True),
        (7, "milk", True),
    }
    assert reading.position == PICTURES.POSITION


def test_a_number_is_shown_and_a_clear_tick_is_not() -> None:
    boxes = frozenset({(3, NAMES.index("wet")), (7, NAMES.index("milk"))})
    crops = {one.name: one.crop for one in read_picture(file_of(boxes)).boxes}
    assert crops["wet"] == ""
    assert crops["milk"].startswith("data:image/jpeg;base64,")


def test_a_picture_without_a_sheet_is_refused_in_words() -> None:
    out = io.BytesIO()
    Image.new("L", (900, 1200), 230).save(out, "PNG")
    with pytest.raises(InputError, match="LOG-006"):
        read_picture(out.getvalue())


@pytest.mark.parametrize("content", [b"", b"no picture", b"\xff\xd8\xff\xe0broken"])
def test_what_is_no_picture_is_refused(content: bytes) -> None:
    with pytest.raises(InputError, match="PHOTO-003"):
        read_picture(content)
