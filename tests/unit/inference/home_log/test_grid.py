"""The grid of a log: boxes that do not overlap, large enough for a pen, and a strip that says which way up."""

from __future__ import annotations

from itertools import combinations

from suffice.inference.home_log import grid


def test_every_box_is_large_enough_and_none_lies_over_another() -> None:
    places = [
        grid.box(row, column) for row in range(grid.ROWS) for column in range(len(grid.COLUMNS))
    ]
    assert all(
        one.right_mm - one.left_mm >= 8 and one.bottom_mm - one.top_mm >= 8 for one in places
    )
    for one, other in combinations(places, 2):
        apart_x = one.right_mm <= other.left_mm or other.right_mm <= one.left_mm
        assert apart_x or one.bottom_mm <= other.top_mm or other.bottom_mm <= one.top_mm


def test_marks_strip_and_boxes_lie_apart_within_the_frame() -> None:
    half = grid.MARK_MM / 2
    table = [grid.box(0, 0), grid.box(grid.ROWS - 1, len(grid.COLUMNS) - 1)]
    for x, y in grid.mark_centres():
        assert half <= x <= grid.WIDTH_MM - half
        assert half <= y <= grid.HEIGHT_MM - half
        assert x + half <= grid.TABLE_X_MM or x - half >= table[1].right_mm
    for one in grid.code_squares():
        assert one.right_mm <= grid.TABLE_X_MM
        assert one.top_mm > grid.MARK_MM
        assert one.bottom_mm < grid.HEIGHT_MM - grid.MARK_MM


def test_the_hours_of_a_sheet_are_those_of_a_day_from_its_first() -> None:
    hours = [grid.hour_of(row) for row in range(grid.ROWS)]
    assert hours[0] == grid.FIRST_HOUR
    assert sorted(hours) == list(range(24))


def test_a_strip_names_its_infant_and_is_no_strip_from_its_other_end() -> None:
    for infant in range(8):
        code = grid.code_of(infant)
        assert grid.infant_of(code) == infant
        assert grid.infant_of(code[::-1]) is None
    assert grid.infant_of((0,) * len(grid.code_of(0))) is None
    assert grid.infant_of((1,) * len(grid.code_of(0))) is None


def test_one_square_read_wrong_makes_it_no_strip_or_no_silent_other_one() -> None:
    """A parity bit finds any one square of the second half; the head finds its own."""
    for infant in range(8):
        code = grid.code_of(infant)
        for place in range(len(code)):
            flipped = (*code[:place], 1 - code[place], *code[place + 1 :])
            assert grid.infant_of(flipped) is None
