"""What a family is called on the list, from its names alone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from people import an_id
from spoken import in_sentences
from suffice.assess.names import called
from suffice.clinical.entry import Basis, Birth, Entry, Identity, Infant, Record, Withdrawal

NOW = datetime(2026, 3, 20, 9, tzinfo=UTC)
ADA, BO = an_id("Ada"), an_id("Bo")


def an_entry(key, fact, infant_id=None, *, days=-3, replaces=None):
    return Entry(
        id=an_id(key),
        fact=fact,
        basis=Basis.REPORTED,
        true_at=NOW + timedelta(days=days),
        entered_at=NOW,
        entered_by="consultant",
        infant_id=infant_id,
        replaces=None if replaces is None else an_id(replaces),
    )


def family(*entries):
    infants = (Infant(id=BO, position=2), Infant(id=ADA, position=1))
    return called(Record(family_id=an_id("family"), infants=infants, entries=entries), NOW)


PARENT = an_entry("parent", Identity(name="Odalys Testcase"))


@pytest.mark.parametrize(
    ("entries", "expected"),
    [
        ((), "Infant 1, Infant 2"),
        ((an_entry("a", Identity(name="Ada"), ADA),), "Ada, Infant 2"),
        (
            (an_entry("a", Identity(name="Ada"), ADA), an_entry("b", Identity(name="Bo"), BO)),
            "Ada, Bo",
        ),
        ((PARENT, an_entry("a", Identity(name="Ada"), ADA)), "Odalys Testcase"),
        (
            (PARENT, an_entry("new", Identity(name="Ottilie"), replaces="parent")),
            "Ottilie",
        ),
        (
            (PARENT, an_entry("gone", Withdrawal(reason="x"), replaces="parent")),
            "Infant 1, Infant 2",
        ),
        # Who is called nothing yet is called by the first name to come, not by the last.
        (
            (
                an_entry("soon", Identity(name="Soon"), days=1),
                an_entry("late", Identity(name="Late"), days=2),
            ),
            "Soon",
        ),
    ],
)
def test_a_family_is_called_by_its_parent_else_by_its_infants(entries, expected):
    assert in_sentences(family(*entries).family) == expected


def test_infants_come_in_order_of_birth_each_with_its_name_and_its_birth():
    born = Birth(zone="UTC", birth_weight_g=3200)
    found = family(
        PARENT, an_entry("born", born, BO), an_entry("b", Identity(name="Bo"), BO),
        an_entry("not yet", born, ADA, days=1),
    ).infants  # fmt: skip
    assert [(one.infant_id, one.position, in_sentences(one.name)) for one in found] == [
        (ADA, 1, "Infant 1"),
        (BO, 2, "Bo"),
    ]
    assert [one.born_at for one in found] == [None, NOW - timedelta(days=3)]
