"""A series answers within its range, by steps or straight lines, and refuses outside."""

from __future__ import annotations

import math
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.clinical.working import Constant
from suffice.errors import RefusalError
from suffice.knowledge.series import Series, Words


def series(between: Literal["step", "linear"]) -> Series:
    points = tuple(
        Constant(
            key=f"t.a_g.{at}",
            value=value,
            unit="g",
            basis="published",
            source="x",
            low=value - 1,
            high=value + 1,
        )
        for at, value in ((1, 10.0), (3, 20.0), (7, 0.0))
    )
    return Series(
        key="t.a_g", axis="day", between=between, until=9, positions=(1, 3, 7), points=points
    )


def test_steps_hold_until_the_next_point() -> None:
    steps = series("step")
    assert [steps.at(x).value for x in (1, 2.9, 3, 6.99, 7, 8.9)] == [10, 10, 20, 20, 0, 0]


def test_straight_lines_run_between_points_and_the_last_value_on() -> None:
    lines = series("linear")
    assert [lines.at(x).value for x in (1, 2, 3, 5, 7, 8.9)] == [10, 15, 20, 10, 0, 0]
    middle = lines.at(2)
    assert (middle.low, middle.high, middle.key) == (14, 16, "t.a_g.2")


@pytest.mark.parametrize("position", [0.999, 9, -1, math.inf, math.nan])
def test_outside_its_range_a_series_refuses(position: float) -> None:
    assert not series("step").covers(position)
    with pytest.raises(RefusalError, match="CONTENT-015"):
        series("step").at(position)


@given(position=st.floats(1, 8.999))
def test_a_straight_line_stays_between_its_ends(position: float) -> None:
    assert 0 <= series("linear").at(position).value <= 20
    assert series("step").at(position).value in {10, 20, 0}


def test_words_hold_until_the_next_point_and_refuse_outside() -> None:
    words = Words(
        key="t.w_words",
        axis="day",
        until=4,
        positions=(1, 3),
        words=(("black",), ("green", "brown")),
        basis="published",
        source="x",
    )
    assert words.at(2.5) == ("black",)
    assert words.at(3) == ("green", "brown")
    with pytest.raises(RefusalError, match="CONTENT-015"):
        words.at(4)


def test_a_series_has_the_unit_of_its_points() -> None:
    assert series("step").unit == "g"
    assert series("step").values == (10.0, 20.0, 0.0)
