"""What was ticked is read box by box; what is not clear is left open, never taken for empty."""

from __future__ import annotations

import numpy as np
import pytest

from suffice.inference.home_log import grid
from suffice.inference.home_log.reading import ReadLog, read_log
from tool_modules import tool_module

PICTURES = tool_module("validate.log_pictures")
BAD = PICTURES.Bad


def read(bad, boxes, seed: int = 11, **hand) -> ReadLog:
    rng = np.random.default_rng(seed)
    found = read_log(PICTURES.photographed(rng, PICTURES.ticked(rng, boxes, **hand), bad))
    assert found is not None
    return found


def wrong(found: ReadLog, boxes) -> list[tuple[int, int, str]]:
    """Boxes that were read as the other thing than they are."""
    return [
        (row, column, seen)
        for row, cells in enumerate(found.boxes)
        for column, seen in enumerate(cells)
        if seen != "unsure" and (seen == "marked") != ((row, column) in boxes)
    ]


def unsure(found: ReadLog) -> int:
    return sum(seen == "unsure" for cells in found.boxes for seen in cells)


@pytest.mark.parametrize(
    "bad",
    [
        BAD(),
        BAD(turn_deg=180, small=0.6),
        BAD(slant=0.15, shade=0.7, small=0.6),
        BAD(turn_deg=8, slant=0.1, shade=0.5, blur_pixels=1.5, noise=0.03, small=0.8, quality=70),
    ],
)
def test_ticks_crosses_dashes_and_numbers_are_read(bad) -> None:
    boxes = PICTURES.drawn_ticks(np.random.default_rng(12))
    found = read(bad, boxes)
    assert wrong(found, boxes) == []
    assert unsure(found) <= 10  # of 288
    assert found.infant == PICTURES.POSITION


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_the_two_sheets_are_read_alike(size: str) -> None:
    boxes = PICTURES.drawn_ticks(np.random.default_rng(13))
    assert wrong(read(BAD(small=0.6), boxes, size=size), boxes) == []


def test_an_empty_sheet_is_empty() -> None:
    found = read(BAD(shade=0.4, noise=0.03, small=0.7), frozenset())
    assert {seen for cells in found.boxes for seen in cells} == {"empty"}


def test_what_is_covered_is_open_and_what_is_not_is_read() -> None:
    boxes = PICTURES.drawn_ticks(np.random.default_rng(14))
    found = read(BAD(covered=((60, 80, 110, 140),)), boxes)
    inside = [
        (row, column)
        for row in range(grid.ROWS)
        for column in range(len(grid.COLUMNS))
        if grid.box(row, column).left_mm > 60
        and grid.box(row, column).right_mm < 110
        and grid.box(row, column).top_mm > 80
        and grid.box(row, column).bottom_mm < 140
    ]
    assert inside
    assert {found.boxes[row][column] for row, column in inside} == {"unsure"}


def test_a_picture_too_blurred_to_see_the_lines_is_left_open_or_not_read() -> None:
    rng = np.random.default_rng(15)
    boxes = PICTURES.drawn_ticks(rng)
    for blur in (4, 8):
        found = read_log(
            PICTURES.photographed(rng, PICTURES.ticked(rng, boxes), BAD(blur_pixels=blur))
        )
        assert found is None or wrong(found, boxes) == []


def test_a_faint_pencil_is_read_or_asked_about_never_taken_for_empty() -> None:
    boxes = PICTURES.drawn_ticks(np.random.default_rng(16))
    found = read(BAD(noise=0.02), boxes, pen_mm=0.3, ink=0.5)
    assert [one for one in wrong(found, boxes) if one[2] == "empty"] == []


def test_the_box_of_a_row_stands_in_its_column() -> None:
    names = [one.name for one in grid.COLUMNS]
    found = read(BAD(), frozenset({(5, names.index("wet"))}))
    assert found.boxes[5][names.index("wet")] == "marked"
    assert found.boxes[5][names.index("left")] == "empty"
