"""The last word on each thing, of each person; never by the ids."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import permutations, product
from uuid import UUID

import pytest

from suffice.care.contact.visit import visit_of
from suffice.clinical.entry import Basis, Consent, ContactStart, Entry, Infant, Record, standing
from suffice.clinical.entry.consent import consents, last_words

AT = datetime(2026, 3, 2, 9, tzinfo=UTC)
KINDS = ("assess", "share", "photograph", "publish")


def word(
    number: int, *, given: bool, to: str = "assess", entered_s: int = 0, infant: UUID | None = None
) -> Entry:
    return Entry(
        id=UUID(int=number), fact=Consent(to=to, given=given),  # type: ignore[arg-type]
        basis=Basis.REPORTED, true_at=AT, entered_at=AT + timedelta(seconds=entered_s),
        entered_by="consultant", infant_id=infant,
    )  # fmt: skip


@pytest.mark.parametrize("to", KINDS)
@pytest.mark.parametrize(("ids", "first"), list(product([(1, 2), (2, 1)], [True, False])))
def test_of_two_for_one_minute_the_later_entry_counts(
    to: str, ids: tuple[int, int], first: bool
) -> None:
    said = [
        word(ids[0], given=first, to=to),
        word(ids[1], given=not first, to=to, entered_s=20),
    ]
    assert last_words(standing(said), to) == {None: not first}
    assert consents(standing(said))[-1] == said[1]


@pytest.mark.parametrize("to", KINDS)
@pytest.mark.parametrize("ids", [(1, 2), (2, 1)])
def test_of_two_entered_at_once_the_no_counts(to: str, ids: tuple[int, int]) -> None:
    said = [word(ids[0], given=True, to=to), word(ids[1], given=False, to=to)]
    for order in permutations(said):
        assert last_words(order, to) == {None: False}


def test_each_thing_and_each_person_by_itself() -> None:
    infant = UUID(int=9)
    said = [
        word(1, given=True),
        word(2, given=False, to="share", entered_s=1),
        word(3, given=False, entered_s=2, infant=infant),
    ]
    assert last_words(said, "assess") == {None: True, infant: False}
    assert last_words(said, "share") == {None: False}
    assert last_words(said, "publish") == {}


@pytest.mark.parametrize("ids", [(1, 2), (2, 1)])
def test_a_contact_goes_by_the_same_rule(ids: tuple[int, int]) -> None:
    infant = Infant(id=UUID(int=9), position=1)
    start = Entry(
        id=UUID(int=5), fact=ContactStart(place="home"), basis=Basis.OBSERVED,
        true_at=AT, entered_at=AT, entered_by="consultant",
    )  # fmt: skip

    def agreed(*said: Entry) -> bool | None:
        record = Record(family_id=UUID(int=7), infants=(infant,), entries=(start, *said))
        visit = visit_of(record)
        assert visit is not None
        return visit.is_agreed

    assert agreed() is None
    assert agreed(word(ids[0], given=True), word(ids[1], given=False)) is False
    assert agreed(word(ids[0], given=True), word(ids[1], given=False, entered_s=9)) is False
    assert agreed(word(ids[0], given=False), word(ids[1], given=True, entered_s=9)) is True
    # Who agrees does not speak for who does not.
    ended = word(ids[0], given=False, infant=infant.id)
    assert agreed(ended, word(ids[1], given=True, entered_s=9)) is False
