"""Which photographs show one latch: two of one infant at one breast in one contact, as long as both stand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid5

import msgspec
import pytest

import latches
from suffice.care.contact.one_latch import (
    Photo,
    could_be_first,
    may_have_second,
    of_one_latch,
    second_of,
    standing_photos,
)
from suffice.clinical.entry import Basis, Entry, Infant, LatchPhotograph, Record, Withdrawal
from suffice.clinical.entry.latch_photograph import KeptPicture
from suffice.errors import InputError

SPACE = UUID(int=1)
CONTACT, OTHER_CONTACT = UUID(int=2), UUID(int=3)
ONE, TWIN = UUID(int=4), UUID(int=5)
START = datetime(2026, 3, 1, 14, tzinfo=UTC)


def shot(name: str, minute: int = 0, *, infant: UUID = ONE, **said: object) -> Entry:
    """A photograph as it was entered."""
    at = START + timedelta(minutes=minute)
    picture = KeptPicture(
        id=uuid5(SPACE, f"{name} picture"), digest="0" * 64, width_count=1200, height_count=900
    )
    values: dict[str, object] = {"side": "left", "contact_id": CONTACT} | said
    return Entry(
        id=uuid5(SPACE, name),
        fact=LatchPhotograph(picture=picture, **values),  # type: ignore[arg-type]
        basis=Basis.MEASURED,
        true_at=at,
        entered_at=at,
        entered_by="consultant",
        infant_id=infant,
    )


def photo(entry: Entry) -> Photo:
    assert isinstance(entry.fact, LatchPhotograph)
    assert entry.fact.picture is not None
    return Photo(entry, entry.fact, entry.fact.picture)


def family(*entries: Entry) -> Record:
    infants = tuple(Infant(id=one, position=place) for place, one in enumerate((ONE, TWIN), 1))
    return Record(family_id=UUID(int=9), infants=infants, entries=entries)


def picture_of(entry: Entry) -> UUID:
    return photo(entry).picture.id


FIRST = shot("first")
SECOND = shot("second", 2, same_latch=picture_of(FIRST))


def test_a_second_one_goes_with_the_first_oldest_first() -> None:
    record = family(SECOND, FIRST)
    pair = [photo(FIRST), photo(SECOND)]
    assert of_one_latch(record, photo(FIRST)) == pair
    assert of_one_latch(record, photo(SECOND)) == pair


def test_marks_of_the_first_do_not_part_them() -> None:
    marked = msgspec.structs.replace(
        FIRST,
        id=UUID(int=70),
        fact=msgspec.structs.replace(FIRST.fact, marks=latches.marks()),
        entered_at=START + timedelta(minutes=30),
        replaces=FIRST.id,
    )
    record = family(FIRST, SECOND, marked)
    assert of_one_latch(record, photo(SECOND)) == [photo(marked), photo(SECOND)]
    # What was corrected stands alone: it is history.
    assert of_one_latch(record, photo(FIRST)) == [photo(FIRST)]


@pytest.mark.parametrize(
    ("infant", "said"),
    [
        (ONE, {"side": "right"}),
        (ONE, {"contact_id": OTHER_CONTACT}),
        (ONE, {"contact_id": None}),
        (TWIN, {}),
    ],
)
def test_another_breast_contact_or_infant_is_another_latch(
    infant: UUID, said: dict[str, object]
) -> None:
    other = shot("second", 2, infant=infant, **({"same_latch": picture_of(FIRST)} | said))
    record = family(FIRST, other)
    assert of_one_latch(record, photo(FIRST)) == [photo(FIRST)]
    assert of_one_latch(record, photo(other)) == [photo(other)]


def test_where_the_first_is_withdrawn_the_second_stands_alone_and_takes_another() -> None:
    at = START + timedelta(hours=1)
    gone = Entry(
        id=UUID(int=77),
        fact=Withdrawal(reason="blurred"),
        basis=Basis.REPORTED,
        true_at=at,
        entered_at=at,
        entered_by="consultant",
        infant_id=ONE,
        replaces=FIRST.id,
    )
    record = family(FIRST, SECOND, gone)
    assert standing_photos(record) == [photo(SECOND)]
    fact = second_of(record, photo(SECOND), CONTACT, view="unknown")
    third = shot("third", 5, same_latch=fact.same_latch)
    record = family(FIRST, SECOND, gone, third)
    assert of_one_latch(record, photo(third)) == [photo(SECOND), photo(third)]


def test_a_third_one_of_two_devices_at_once_is_read_alone() -> None:
    third = shot("third", 3, same_latch=picture_of(FIRST))
    record = family(FIRST, SECOND, third)
    assert of_one_latch(record, photo(FIRST)) == [photo(FIRST), photo(SECOND)]
    assert of_one_latch(record, photo(third)) == [photo(third)]


def test_a_second_one_knows_breast_and_contact_and_only_in_that_contact() -> None:
    record = family(FIRST)
    fact = second_of(record, photo(FIRST), CONTACT, view="side")
    assert (fact.side, fact.contact_id, fact.view) == ("left", CONTACT, "side")
    assert fact.same_latch == picture_of(FIRST)
    for contact in (OTHER_CONTACT, None):
        assert not may_have_second(record, photo(FIRST), contact)
        with pytest.raises(InputError) as refused:
            second_of(record, photo(FIRST), contact, view="side")
        assert refused.value.problems[0].code == "PHOTO-009"


def test_two_are_enough() -> None:
    record = family(FIRST, SECOND)
    assert not may_have_second(record, photo(FIRST), CONTACT)
    assert not may_have_second(record, photo(SECOND), CONTACT)


def test_what_it_could_go_with_is_the_last_single_one_before_it() -> None:
    early, late, lone = shot("early", -5), shot("late", 1), shot("lone", 4)
    record = family(early, late, lone)
    assert could_be_first(record, photo(lone)) == photo(late)
    assert could_be_first(record, photo(early)) is None
    # The first of a pair goes with nothing earlier; the second keeps its first.
    paired = shot("paired", 3, same_latch=picture_of(late))
    record = family(early, late, paired, lone)
    assert could_be_first(record, photo(late)) is None
    assert could_be_first(record, photo(paired)) == photo(late)
    assert could_be_first(record, photo(lone)) == photo(early)
    # Of another breast there is none.
    right = shot("right", 6, side="right")
    assert could_be_first(family(early, right), photo(right)) is None
