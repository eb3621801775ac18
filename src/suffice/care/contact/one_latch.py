"""Which photographs show one latch, and may be read together."""

from __future__ import annotations

from typing import Final, NamedTuple
from uuid import UUID

from suffice.clinical.entry import Entry, LatchPhotograph, Record, standing
from suffice.clinical.entry.latch_photograph import KeptPicture
from suffice.clinical.latch.mark import View
from suffice.errors import InputError, Problem
from suffice.message import message

MOST_OF_ONE_LATCH: Final = 2
"""What is read together: how well three do was never measured."""


class Photo(NamedTuple):
    """A photograph that stands on the record."""

    entry: Entry
    fact: LatchPhotograph
    picture: KeptPicture


def standing_photos(record: Record) -> list[Photo]:
    """The photographs of a family that were neither corrected nor withdrawn, oldest first."""
    found = [
        Photo(one, one.fact, one.fact.picture)
        for one in standing(record.entries)
        if isinstance(one.fact, LatchPhotograph) and one.fact.picture
    ]
    return sorted(found, key=lambda one: (one.entry.true_at, str(one.picture.id)))


def of_one_latch(record: Record, photo: Photo) -> list[Photo]:
    """A photograph and the other one of the same latch, oldest first; itself alone where there is none.

    One latch is one infant at one breast in one contact: where a correction says otherwise they part.
    """
    found = [
        one
        for one in standing_photos(record)
        if one.fact.latch == photo.fact.latch and _at_one_breast(one, photo)
    ][:MOST_OF_ONE_LATCH]
    return found if photo in found else [photo]


def could_be_first(record: Record, photo: Photo) -> Photo | None:
    """The photograph whose latch this one shows, or could show: the last before it that has no other."""
    group = of_one_latch(record, photo)
    if group[0] != photo:
        return group[0]
    if len(group) > 1:
        return None
    earlier = [
        one
        for one in standing_photos(record)
        if one.entry.true_at < photo.entry.true_at
        and _at_one_breast(one, photo)
        and len(of_one_latch(record, one)) == 1
    ]
    return earlier[-1] if earlier else None


def second_of(
    record: Record, first: Photo, contact_id: UUID | None, *, view: View
) -> LatchPhotograph:
    """What is known of a second photograph before it is kept: breast, contact and latch of the first.

    Args:
        record: The family's record.
        first: The photograph that it goes with.
        contact_id: The contact that is in progress.
        view: What the photographer says of the second.

    Raises:
        InputError: PHOTO-009.
    """
    if not may_have_second(record, first, contact_id):
        raise InputError(_no_second())
    fact = first.fact
    return LatchPhotograph(
        side=fact.side, view=view, contact_id=fact.contact_id, same_latch=fact.latch
    )


def may_have_second(record: Record, first: Photo, contact_id: UUID | None) -> bool:
    """Whether a second photograph of a latch may be added: in the contact of the first, and once."""
    is_now = contact_id is not None and first.fact.contact_id == contact_id
    return is_now and len(of_one_latch(record, first)) < MOST_OF_ONE_LATCH


def check_room(record: Record, fact: LatchPhotograph) -> None:
    """Refuse one more photograph of a latch that has all that are read together.

    Raises:
        InputError: PHOTO-009.
    """
    if fact.same_latch is None:
        return
    there = [one for one in standing_photos(record) if one.fact.latch == fact.same_latch]
    if len(there) >= MOST_OF_ONE_LATCH:
        raise InputError(_no_second())


def _no_second() -> Problem:
    return Problem(
        code="PHOTO-009",
        what=message("A second photograph of this latch"),
        why=message("cannot be added: there are two already, or the contact has ended."),
        fix=message("Keep it as a photograph of its own."),
        where="photo",
    )


def _at_one_breast(one: Photo, other: Photo) -> bool:
    return (
        one.fact.contact_id is not None
        and one.fact.contact_id == other.fact.contact_id
        and one.fact.side == other.fact.side
        and one.entry.infant_id == other.entry.infant_id
    )
