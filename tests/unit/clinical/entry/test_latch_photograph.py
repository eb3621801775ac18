"""A photograph on the record: what it holds, and what a file of the record may say of it."""

from __future__ import annotations

from uuid import UUID

import msgspec
import pytest

import latches
from suffice.clinical.entry import KINDS, LatchPhotograph
from suffice.clinical.entry.latch_photograph import KeptPicture

PICTURE = KeptPicture(id=UUID(int=7), digest="0" * 64, width_count=1200, height_count=900)


def test_what_is_written_is_read_again() -> None:
    fact = LatchPhotograph(picture=PICTURE, marks=latches.marks(), side="left", view="side")
    assert msgspec.json.decode(msgspec.json.encode(fact), type=LatchPhotograph) == fact
    assert KINDS["latch photograph"] is LatchPhotograph


def test_a_view_is_not_known_unless_it_is_said() -> None:
    assert LatchPhotograph().view == "unknown"


@pytest.mark.parametrize("change", [{"place": "tooth"}, {"x": "left"}, {"z": 3}])
def test_a_mark_of_no_known_place_is_refused(change: dict[str, object]) -> None:
    mark = {"place": "ear", "x": 1, "y": 2} | change
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert({"kind": "latch photograph", "marks": [mark]}, type=LatchPhotograph)


def test_photographs_of_one_latch_name_its_first_picture() -> None:
    first = UUID(int=3)
    assert LatchPhotograph(picture=PICTURE).latch == PICTURE.id
    assert LatchPhotograph(picture=PICTURE, same_latch=first).latch == first
    assert LatchPhotograph().latch is None
