"""Labels beside a chart never cover one another and stay near their lines."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.documents.chart.end_label import EndLabel, spread


def labels(*heights: float) -> list[EndLabel]:
    return [EndLabel(text=f"{n}", y_px=y, colour="#000") for n, y in enumerate(heights)]


def heights(placed: list[EndLabel]) -> list[float]:
    return [label.y_px for label in placed]


def test_labels_that_have_room_stay_where_they_want() -> None:
    assert heights(spread(labels(10, 100, 300), gap_px=16, height_px=400)) == [10, 100, 300]


def test_two_that_overlap_move_apart_about_their_middle() -> None:
    assert heights(spread(labels(100, 100), gap_px=16, height_px=400)) == [92, 108]


def test_run_pushes_on_into_the_next_label() -> None:
    placed = heights(spread(labels(100, 100, 112), gap_px=16, height_px=400))
    assert placed == pytest.approx([88, 104, 120])


@given(
    st.lists(st.floats(min_value=-500, max_value=900), max_size=12),
    st.floats(min_value=300, max_value=800),
)
def test_labels_never_overlap_and_stay_inside_while_there_is_room(
    wanted: list[float], height_px: float
) -> None:
    placed = spread(labels(*wanted), gap_px=16, height_px=height_px)
    assert sorted(label.text for label in placed) == sorted(f"{n}" for n in range(len(wanted)))
    assert all(after - before >= 16 - 1e-6 for before, after in pairwise(heights(placed)))
    assert all(-1e-6 <= y <= height_px + 1e-6 for y in heights(placed))
