"""What is said of a latch in a photograph, on both sides of each limit."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from clinical_constants import constant
from latches import PARAMETERS, marks, photo
from suffice.clinical.latch.mark import Place
from suffice.inference.latch.model import LatchParameters
from suffice.inference.latch.reading import Help, Photographed, Why, Wide, gape_deg, read_latch

LATCH_ONLY: tuple[Place, ...] = ("wing", "eye", "ear")


def with_values(**values: float) -> LatchParameters:
    return msgspec.structs.replace(
        PARAMETERS, **{name: constant(value) for name, value in values.items()}
    )


def test_a_side_view_is_measured_with_its_intervals() -> None:
    """The angle is 124 degrees by the protractor; sources: content, topic latch_photograph."""
    found = read_latch([photo(times=3)], PARAMETERS)
    assert found.gape_deg.low < 124.9 < found.gape_deg.high
    assert abs(found.turn_deg.value) < 8
    assert found.opening_ratio.low < 0.4655 < found.opening_ratio.high
    assert found.areola_share is not None
    assert found.areola_share.low < 0.638 < found.areola_share.high
    assert found.in_picture.gape_deg == pytest.approx(124.92, abs=0.1)


def test_a_mirrored_picture_is_the_same_latch() -> None:
    ways = [photo(), Photographed(tuple(msgspec.structs.replace(m, x=1000 - m.x) for m in marks()))]
    one, other = (read_latch([each], PARAMETERS) for each in ways)
    assert one == other


def test_wide_open_and_hardly_open_are_told() -> None:
    wide = photo(times=3, moved={"corner": (-1, -22), "lower lip": (1, -37), "chin": (-3, -49)})
    narrow = photo(times=3, moved={"corner": (-8, -16), "lower lip": (1, -22), "chin": (-3, -36)})
    assert read_latch([wide], PARAMETERS).wide is Wide.CLEAR
    assert read_latch([narrow], PARAMETERS).wide is Wide.SHORT


def test_near_the_limit_it_is_borderline_or_too_wide_to_tell() -> None:
    found = read_latch([photo(times=3)], PARAMETERS)
    half = (found.gape_deg.high - found.gape_deg.low) / 2
    limit = {"wide_deg": found.gape_deg.value}
    borderline = read_latch([photo(times=3)], with_values(widest_deg=half + 0.01, **limit))
    assert (borderline.wide, borderline.why) == (Wide.BORDERLINE, None)
    unsure = read_latch([photo(times=3)], with_values(widest_deg=half - 0.01, **limit))
    assert (unsure.wide, unsure.why) == (Wide.CANNOT_TELL, Why.WIDE)


def test_a_turn_that_may_reach_the_limit_says_nothing() -> None:
    found = read_latch([photo()], PARAMETERS)
    reach = max(-found.turn_deg.low, found.turn_deg.high)
    for limit, why in ((reach - 0.01, Why.TURNED), (reach + 0.01, Why.WIDE)):
        said = read_latch(
            [photo()], with_values(turn_unread_deg=limit, wide_deg=found.gape_deg.value)
        )
        assert (said.wide, said.why) == (Wide.CANNOT_TELL, why)


def test_a_corner_before_the_lips_always_says_nothing() -> None:
    found = read_latch([photo(moved={"corner": (4, -20.5)})], with_values(sure_fraction=0))
    assert (found.wide, found.why) == (Wide.CANNOT_TELL, Why.BEHIND)


def test_a_side_view_is_believed_only_where_the_rigid_marks_agree() -> None:
    said = Photographed(marks(), "side")
    assert read_latch([said], PARAMETERS).is_side is True
    assert read_latch([photo()], PARAMETERS).is_side is None
    # Nothing could speak against it.
    bare = Photographed(marks(leave_out=LATCH_ONLY), "side")
    assert read_latch([bare], PARAMETERS).is_side is False
    # Seen from 30 degrees to the front eye and ear lie further back.
    turned = Photographed(marks(moved={"eye": (-26, 27), "ear": (-75, 10)}), "side")
    assert read_latch([turned], PARAMETERS).is_side is False


def test_a_believed_side_view_narrows_the_turn() -> None:
    one, other = (
        read_latch([Photographed(marks(), view)], PARAMETERS).turn_deg
        for view in ("side", "unknown")
    )
    assert one.high - one.low < other.high - other.low


def test_what_would_help_names_what_has_not_been_done() -> None:
    bare = read_latch([photo(leave_out=LATCH_ONLY)], PARAMETERS)
    assert bare.helps == (Help.RIGID, Help.REPEATS, Help.SECOND_PHOTO, Help.SIDE_VIEW)
    again = read_latch(
        [Photographed(marks(), "side"), photo()], with_values(widest_deg=0, sure_fraction=1)
    )
    assert again.helps == (Help.REPEATS,)


def test_a_second_photograph_narrows_the_angle() -> None:
    one, two = (read_latch([photo()] * count, PARAMETERS).gape_deg for count in (1, 2))
    assert two.high - two.low < one.high - one.low


def test_a_hidden_areola_gives_a_least_share() -> None:
    without = marks(leave_out=("areola below",))
    assert read_latch([Photographed(without)], PARAMETERS).areola_share is None
    hidden = read_latch([Photographed(without, hidden=True)], PARAMETERS)
    assert hidden.share_is_least
    assert hidden.areola_share is not None
    seen_share = read_latch([photo()], PARAMETERS).areola_share
    assert seen_share is not None
    assert hidden.areola_share.low < seen_share.value


def test_the_angle_of_known_places() -> None:
    at = np.zeros((1, 12, 3))
    at[0, 0, :2], at[0, 1, :2] = (1, 1), (1, -1)
    assert gape_deg(at) == pytest.approx([90])
    at[0, :2, 0] = -1
    assert gape_deg(at) == pytest.approx([270])
