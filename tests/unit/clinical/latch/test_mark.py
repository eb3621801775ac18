"""What keeps marks from being those of one picture, each limit on both sides."""

from __future__ import annotations

import msgspec
import pytest

from latches import LIMITS, SIZE, marks
from suffice.clinical.latch.mark import NEEDED, Mark, Place, mark_problems


def codes(of: tuple[Mark, ...]) -> list[str]:
    return [one.code for one in mark_problems(of, SIZE, LIMITS)]


def test_the_marks_of_a_latch_are_accepted() -> None:
    assert codes(marks()) == []
    assert codes(marks(leave_out=("ear", "eye", "wing", "areola below"))) == []


@pytest.mark.parametrize(
    ("x", "y", "refused"),
    [(0, 0, False), (1200, 900, False), (1200.5, 10, True), (-0.5, 10, True), (9, 900.5, True)],
)
def test_a_mark_outside_the_picture_is_refused(x: float, y: float, refused: bool) -> None:
    moved = tuple(
        msgspec.structs.replace(one, x=x, y=y) if one.place == "ear" else one for one in marks()
    )
    assert codes(moved) == (["MARK-001"] if refused else [])


def test_a_mark_that_is_no_number_lies_outside() -> None:
    odd = (*marks(), Mark(place="ear", x=float("nan"), y=1))
    assert codes(odd) == ["MARK-001"]


def test_a_place_can_be_marked_five_times_and_no_more() -> None:
    assert codes(marks(times=5)) == []
    assert codes((*marks(times=5), Mark(place="ear", x=1, y=1))) == ["MARK-002"]


@pytest.mark.parametrize("place", NEEDED)
def test_what_gives_the_opening_and_the_scale_is_needed(place: Place) -> None:
    assert codes(marks(leave_out=(place,))) == ["MARK-003"]


@pytest.mark.parametrize("places", [("nose", "chin"), ("upper lip", "lower lip")])
def test_places_at_one_point_give_no_length(places: tuple[Place, Place]) -> None:
    assert codes(marks(moved={places[0]: (0, 0), places[1]: (0.05, 0)})) == ["MARK-004"]
