"""A photograph's answer does not hang on how it was held, and more marks never make it vaguer."""

from __future__ import annotations

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from latches import AT_MM, PARAMETERS, marks
from suffice.clinical.latch.mark import PLACES, Mark
from suffice.inference.latch.reading import LatchReading, Photographed, Why, Wide, read_latch

OFF = st.floats(-1.5, 1.5)


def moved(offs: list[tuple[float, float]]) -> tuple[Mark, ...]:
    return marks(
        moved={
            place: (AT_MM[place][0] + x, AT_MM[place][1] + y)
            for place, (x, y) in zip(PLACES, offs, strict=True)
        }
    )


LATCHES = st.lists(st.tuples(OFF, OFF), min_size=12, max_size=12).map(moved)


def read(of: tuple[Mark, ...]) -> LatchReading:
    return read_latch([Photographed(of)], PARAMETERS)


@settings(max_examples=5)
@given(LATCHES, st.floats(0, 6.3), st.floats(0.2, 6), st.floats(-900, 900), st.floats(-900, 900))
def test_shift_roll_and_zoom_change_no_bit(
    of: tuple[Mark, ...], roll: float, zoom: float, right: float, down: float
) -> None:
    cos, sin = zoom * math.cos(roll), zoom * math.sin(roll)
    other = tuple(
        Mark(place=m.place, x=cos * m.x - sin * m.y + right, y=sin * m.x + cos * m.y + down)
        for m in of
    )
    assert read(other) == read(of)


@settings(max_examples=5)
@given(LATCHES, st.randoms(use_true_random=False))
def test_the_order_of_the_marks_changes_nothing(of: tuple[Mark, ...], shuffled: object) -> None:
    order = list(of)
    shuffled.shuffle(order)  # type: ignore[attr-defined]
    assert read(tuple(order)) == read(of)


@settings(max_examples=5)
@given(LATCHES)
def test_the_same_marks_again_never_widen(of: tuple[Mark, ...]) -> None:
    one, three = read(of).gape_deg, read(of * 3).gape_deg
    assert three.high - three.low <= one.high - one.low


@settings(max_examples=5)
@given(LATCHES, st.floats(0.5, 8), st.floats(0.2, 0.8))
def test_above_half_a_turn_nothing_is_ever_said(
    of: tuple[Mark, ...], before: float, part: float
) -> None:
    at = {one.place: one for one in of}
    up, low = at["upper lip"], at["lower lip"]
    corner = Mark(
        place="corner",
        x=max(up.x, low.x) + 10 * before,
        y=up.y + part * (low.y - up.y),
    )
    found = read((*(one for one in of if one.place != "corner"), corner))
    assert found.in_picture.gape_deg > 180
    assert (found.wide, found.why) == (Wide.CANNOT_TELL, Why.BEHIND)
