"""Marks on a photograph of a latch: which places there are, and what a list of marks must keep to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import ClassVar, Final, Literal, get_args

import msgspec

from suffice.clinical.parameters import Parameters
from suffice.clinical.working import Constant
from suffice.errors import Problem
from suffice.message import Listed, Message, message

Place = Literal[
    "upper lip",
    "lower lip",
    "corner",
    "nose",
    "chin",
    "breast at nose",
    "breast at chin",
    "areola above",
    "areola below",
    "wing",
    "eye",
    "ear",
]
PLACES: Final[tuple[Place, ...]] = get_args(Place)
NEEDED: Final[tuple[Place, ...]] = PLACES[:5]
"""Without these nothing is read: the lips, their corner, and what gives the scale."""
RIGID: Final[tuple[Place, ...]] = PLACES[9:]
"""Places that no latch moves: they tell from where the picture was taken."""

View = Literal["side", "unknown"]
"""What the photographer says: taken from the side, or nothing of it."""

NAMES: Final[dict[Place, Message]] = {
    "upper lip": message("edge of the upper lip"),
    "lower lip": message("edge of the lower lip"),
    "corner": message("corner of the mouth"),
    "nose": message("tip of the nose"),
    "chin": message("tip of the chin"),
    "breast at nose": message("breast nearest the nose"),
    "breast at chin": message("breast nearest the chin"),
    "areola above": message("edge of the areola above the upper lip"),
    "areola below": message("edge of the areola below the lower lip"),
    "wing": message("wing of the nose"),
    "eye": message("outer corner of the eye"),
    "ear": message("notch of the ear"),
}


class Mark(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One place marked once, in pixels of the picture: from its left, and down from its top."""

    place: Place
    x: float
    y: float


class MarkLimits(Parameters, frozen=True, kw_only=True):
    """How much one picture may hold."""

    topic: ClassVar[str] = "latch_photograph"

    most_marks_count: Constant
    """Marks of one place."""


def mark_problems(
    marks: Sequence[Mark], size: tuple[int, int], limits: MarkLimits
) -> tuple[Problem, ...]:
    """What keeps marks from being those of one picture: MARK-001 to MARK-004, empty when nothing.

    Args:
        marks: In any order.
        size: Width and height of the picture in pixels.
        limits: Of the content.
    """
    found = [*_outside(marks, size), *_too_many(marks, limits)]
    missing = [one for one in NEEDED if all(mark.place != one for mark in marks)]
    if missing:
        found.append(
            _refused(
                "MARK-003",
                message("without {places}", places=Listed(tuple(NAMES[one] for one in missing))),
                message("nothing can be measured: they give the opening and the scale."),
                message("Mark them."),
            )
        )
    elif not _apart(marks):
        found.append(
            _refused(
                "MARK-004",
                message("tip of the nose and chin, or both lips, at one point"),
                message("give no length to measure by."),
                message("Undo one and mark it where it is."),
            )
        )
    return tuple(found)


def _outside(marks: Sequence[Mark], size: tuple[int, int]) -> Iterator[Problem]:
    for mark in marks:
        if not (0 <= mark.x <= size[0] and 0 <= mark.y <= size[1]):
            yield _refused(
                "MARK-001",
                message("the mark '{place}'", place=NAMES[mark.place]),
                message("is outside the picture."),
                message("Undo it and mark the place in the picture, or leave it out."),
            )


def _too_many(marks: Sequence[Mark], limits: MarkLimits) -> Iterator[Problem]:
    most = int(limits.most_marks_count.value)
    for place in PLACES:
        if sum(mark.place == place for mark in marks) > most:
            yield _refused(
                "MARK-002",
                message("the place '{place}'", place=NAMES[place]),
                message("is marked more than {most} times: more adds nothing.", most=most),
                message("Undo some of them."),
            )


def _apart(marks: Sequence[Mark]) -> bool:
    """Whether the lengths to measure by are at least one pixel long; of each place the mean of its marks."""
    # Without numpy: whoever reads an entry, or asks the shell for its help, need not load it.
    middle: dict[Place, tuple[float, float]] = {}
    for place in NEEDED:
        own = [one for one in marks if one.place == place]
        middle[place] = (
            sum(one.x for one in own) / len(own),
            sum(one.y for one in own) / len(own),
        )
    lengths: tuple[tuple[Place, Place], ...] = (("nose", "chin"), ("upper lip", "lower lip"))
    return all(
        max(abs(a - b) for a, b in zip(middle[one], middle[other], strict=True)) >= 1
        for one, other in lengths
    )


def _refused(code: str, what: Message, why: Message, fix: Message) -> Problem:
    return Problem(code=code, what=what, why=why, fix=fix, where="marks")
