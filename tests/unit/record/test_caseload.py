"""The list of families and its caseload rows: few queries, and nothing stale unseen."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import msgspec
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Infant, Note
from suffice.record import caseload, repository
from suffice.record.values import ORDER_LENGTH, CaseloadRow, FamilyLine

pytestmark = pytest.mark.django_db

KEYS = [an_id(f"family {n}") for n in range(5)]
VERSIONS = {"content_version": "c1", "engine_version": "e1", "policy_version": 3}
AT = BORN_AT + timedelta(hours=1)


@pytest.fixture(autouse=True)
def seqs():
    """Five families, opened a minute apart, each with one note; the newest entry of each."""
    newest = {}
    for number, key in enumerate(KEYS):
        infant = Infant(id=an_id(f"infant of {key}"), position=1)
        opened_at = BORN_AT + timedelta(minutes=number)
        repository.open_family(key, [infant], opened_at=opened_at, opened_by="consultant")
        newest[key] = repository.append(key, [a_note(key, "first")]).latest_seq
    return newest


def a_note(key, text):
    return an_entry(f"{text} of {key}", Note(text=text), infant=None)


def a_row(key, seqs, *, tier=1, order=(0.0,), **changes):
    made = CaseloadRow(
        family_id=key,
        record_seq=seqs[key],
        as_of=BORN_AT,
        valid_until=BORN_AT + timedelta(days=1),
        tier=tier,
        order=order,
        reason="no weight since day 3",
        payload='{"name": "A"}',
        **VERSIONS,
    )
    return msgspec.structs.replace(made, **changes)


def listed(**options):
    return [line.family_id for line in caseload.families(**options)]


def stale(**changes):
    return set(caseload.stale(**{"at": AT, **VERSIONS, **changes}))


def test_a_family_without_row_is_listed_and_stale(seqs):
    assert listed() == KEYS
    assert caseload.families()[0] == FamilyLine(family_id=KEYS[0], latest_seq=seqs[KEYS[0]])
    assert stale() == set(KEYS)


def test_families_stand_in_order_of_tier_then_order_then_opening(seqs):
    a, b, c, d, e = KEYS
    caseload.put_rows(
        [
            a_row(a, seqs, tier=2, order=(0.0, 1.0)),
            a_row(b, seqs, tier=2, order=(0.0, -1.0)),
            a_row(c, seqs, tier=0, order=(9.0, 0, 0, 0, 0, 5.0)),
            a_row(d, seqs, tier=2, order=(0.0, 1.0)),
        ]
    )
    assert listed() == [c, b, a, d, e]


def test_a_row_is_read_back_as_it_was_put_and_replaced_by_the_next(seqs):
    key = KEYS[0]
    first = a_row(key, seqs, order=(1.5, -2.0))
    second = a_row(
        key, seqs, tier=0, order=tuple(float(n) for n in range(ORDER_LENGTH)), discharged=False
    )
    caseload.put_rows([first])
    assert caseload.families()[0].row == msgspec.structs.replace(
        first, order=(1.5, -2.0, *(0.0,) * (ORDER_LENGTH - 2))
    )
    caseload.put_rows([second])
    assert caseload.families()[0].row == second
    bare = caseload.families(with_order=False)[0].row
    assert bare == msgspec.structs.replace(second, order=())


@pytest.mark.parametrize(
    "changes",
    [
        {"content_version": "c2"},
        {"engine_version": "e2"},
        {"policy_version": 4},
        {"at": BORN_AT + timedelta(days=1)},
        {"at": BORN_AT - timedelta(seconds=1)},
    ],
)
def test_a_row_goes_stale_with_time_and_with_every_version(seqs, changes):
    caseload.put_rows([a_row(key, seqs) for key in KEYS])
    assert stale() == set()
    assert stale(**changes) == set(KEYS)


def test_a_new_entry_makes_the_row_of_its_family_stale_and_no_other(seqs):
    caseload.put_rows([a_row(key, seqs) for key in KEYS])
    repository.append(KEYS[2], [a_note(KEYS[2], "second")])
    assert stale() == {KEYS[2]}


def test_a_discharged_family_leaves_the_list_until_something_new_is_entered(seqs):
    caseload.put_rows([a_row(key, seqs, discharged=key == KEYS[1]) for key in KEYS])
    assert listed() == [KEYS[0], *KEYS[2:]]
    assert listed(with_discharged=True) == KEYS
    repository.append(KEYS[1], [a_note(KEYS[1], "back again")])
    assert listed() == KEYS


def test_the_list_and_the_stale_take_one_query_each(seqs, django_assert_num_queries):
    caseload.put_rows([a_row(key, seqs) for key in KEYS])
    with django_assert_num_queries(1):
        caseload.families()
    with django_assert_num_queries(1):
        stale()


@pytest.mark.parametrize("order", [(0.0,) * (ORDER_LENGTH + 1), (float("nan"),), (float("inf"),)])
def test_an_order_that_cannot_be_kept_is_a_defect(seqs, order):
    with pytest.raises(ValueError, match="finite numbers"):
        caseload.put_rows([a_row(KEYS[0], seqs, order=order)])


def test_rows_can_be_forgotten(seqs):
    caseload.put_rows([a_row(key, seqs) for key in KEYS])
    caseload.forget_rows(KEYS[:2])
    assert stale() == set(KEYS[:2])
    caseload.forget_rows()
    assert stale() == set(KEYS)


def test_a_family_opened_without_entries_has_no_newest_entry():
    key = UUID(int=11)
    infant = Infant(id=UUID(int=12), position=1)
    repository.open_family(key, [infant], opened_at=BORN_AT, opened_by="consultant")
    assert repository.latest_seq(key) == 0
    assert [line.latest_seq for line in caseload.families() if line.family_id == key] == [0]


def test_the_families_of_somebody_are_those_of_their_entries_in_one_query(
    seqs, django_assert_num_queries
):
    later = msgspec.structs.replace(
        a_note(KEYS[1], "second"), entered_by="Ana", entered_at=AT + timedelta(hours=2)
    )
    repository.append(KEYS[1], [later])
    with django_assert_num_queries(1):
        assert caseload.entered_by("Ana") == {KEYS[1]: later.entered_at}
    assert set(caseload.entered_by(a_note(KEYS[0], "x").entered_by)) == set(KEYS)
    assert caseload.entered_by("nobody") == {}


def test_the_families_of_somebody_are_found_by_an_index(seqs):
    """SQLite is asked about the whole query, PostgreSQL about its condition alone.

    How PostgreSQL joins and groups five entries depends on what it has counted so far; that the
    condition has an index does not, once it may not read the whole table.
    """
    with CaptureQueriesContext(connection) as asked:
        caseload.entered_by("nobody")
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            assert "entered_by\" = 'nobody'" in asked[0]["sql"]
            cursor.execute("SET LOCAL enable_seqscan = off")
            cursor.execute("EXPLAIN SELECT id FROM record_entry WHERE entered_by = 'nobody'")
        else:
            cursor.execute(f"EXPLAIN QUERY PLAN {asked[0]['sql']}")
        plan = str(cursor.fetchall())
    assert "entries_of_person" in plan
