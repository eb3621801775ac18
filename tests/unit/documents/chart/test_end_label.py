"""Labels beside a chart never cover one another and stay near their lines."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.documents.chart.end_label import EndLabel, Placed, spread


def labels(*wishes: float, height: float = 16.0) -> list[EndLabel]:
    return [EndLabel(name=f"{n}", y_px=y, height_px=height, rank=n) for n, y in enumerate(wishes)]


def middles(placed: list[Placed]) -> list[float]:
    return [(one.top_px + one.bottom_px) / 2 for one in placed]


def test_labels_that_have_room_stay_where_they_want() -> None:
    assert middles(spread(labels(10, 100, 300), top_px=0, bottom_px=400)) == [10, 100, 300]


def test_two_that_overlap_move_apart_about_their_middle() -> None:
    assert middles(spread(labels(100, 100), top_px=0, bottom_px=400)) == [92, 108]


def test_a_run_pushes_on_into_the_next_label() -> None:
    placed = middles(spread(labels(100, 100, 112), top_px=0, bottom_px=400))
    assert placed == pytest.approx([88, 104, 120])


def test_labels_of_different_heights_stand_one_under_another() -> None:
    high = EndLabel(name="high", y_px=100, height_px=40)
    low = EndLabel(name="low", y_px=101, height_px=10)
    first, second = spread([low, high], top_px=0, bottom_px=400)
    assert (first.name, second.name) == ("high", "low")
    assert first.bottom_px == second.top_px
    assert second.bottom_px - first.top_px == 50


def test_what_matters_least_gives_way_where_there_is_no_room() -> None:
    placed = spread(labels(10, 20, 30), top_px=0, bottom_px=40)
    assert [one.name for one in placed] == ["0", "1"]


@given(
    st.lists(
        st.tuples(st.floats(min_value=-500, max_value=900), st.floats(min_value=15, max_value=60)),
        max_size=8,
    ),
    st.floats(min_value=200, max_value=500),
)
def test_labels_never_overlap_and_stay_inside(
    wanted: list[tuple[float, float]], bottom_px: float
) -> None:
    wishes = [
        EndLabel(name=f"{n}", y_px=y, height_px=height, rank=n)
        for n, (y, height) in enumerate(wanted)
    ]
    placed = spread(wishes, top_px=20, bottom_px=bottom_px)
    heights = {one.name: one.height_px for one in wishes}
    assert all(one.bottom_px - one.top_px == pytest.approx(heights[one.name]) for one in placed)
    assert all(after.top_px - before.bottom_px >= -1e-6 for before, after in pairwise(placed))
    assert all(one.top_px >= 20 - 1e-6 and one.bottom_px <= bottom_px + 1e-6 for one in placed)
    if sum(heights.values()) <= bottom_px - 20:
        assert {one.name for one in placed} == set(heights)
