"""Whatever is stored has the same digest when it is read back, on either engine."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import UTC, datetime, timedelta, timezone
from uuid import UUID

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from people import BORN_AT, an_id
from strategies import instants, records
from suffice.record import append_only, chain, models, policies, repository
from suffice.record.stored_rows import one_view, stored_rows
from suffice.record.verify import verify

pytestmark = pytest.mark.django_db

JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["añ", "z"]), inner)
    ),
    max_leaves=8,
)
USUAL = settings(
    deadline=None,
    max_examples=40,
    phases=[Phase.explicit, Phase.generate, Phase.shrink],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@contextmanager
def undone():
    """What runs within is undone, so that the next example finds nothing."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@given(records(), instants())
@USUAL
def test_every_kind_of_entry_is_read_back_with_the_digest_that_was_chained(record, opened_at):
    with undone():
        key = record.family_id
        repository.open_family(key, record.infants, opened_at=opened_at, opened_by="é ñ")
        repository.append(key, record.entries)
        checked = verify()
        assert checked.found == ()
        assert checked.row_count == 1 + len(record.infants) + len(record.entries)


@given(JSON)
@example(-0.0)
@example(1e22)
@example(5e-324)
@USUAL
def test_whatever_a_json_column_holds_is_read_back_with_its_digest(content):
    with undone():
        row = models.PolicyVersion(
            id=an_id("policy"), entered_at=BORN_AT, entered_by="x", policy={"x": content}
        )
        row.save(force_insert=True)
        chain.extend(chain.POLICY, [row])
        assert verify().found == ()


def test_a_digest_is_what_the_documents_say():
    """Written down, so that another program can check it: it must never change."""
    row = models.Family(
        id=UUID("00112233-4455-6677-8899-aabbccddeeff"),
        opened_at=datetime(2026, 5, 1, 8, 0, 0, 5, timezone(timedelta(hours=2))),
        opened_by="é",
    )
    # sha256 of: ["family","00112233445566778899aabbccddeeff","2026-05-01T06:00:00.000005","é",null]
    form, key, digest = chain.named(row)
    assert (form, key) == ("family", "00112233445566778899aabbccddeeff")
    assert digest == "TL0wRgYi0hUyEqt_Ppet32NlYJSJrV2jJkxZbmdlFhY"


def test_every_column_of_an_append_only_table_is_in_its_digest():
    apart = {"record_link"}  # bound by its own hash
    newest = {form.table: form for form in chain.FORMS.values()}
    assert set(newest) == set(append_only.IDENTITIES) - apart
    for model in (models.Family, models.Entry, models.Infant, models.TrailEvent, models.Seal,
                  models.Arrival, models.PolicyVersion):  # fmt: skip
        columns = {field.column for field in model._meta.concrete_fields}
        assert set(newest[model._meta.db_table].columns) == columns


def test_a_stored_row_is_named_as_it_was_when_it_was_stored():
    policies.append(an_id("policy"), {"n": 3280}, entered_at=BORN_AT, entered_by="x")
    (row,) = models.PolicyVersion.objects.all()
    with one_view() as read:
        (stored,) = stored_rows("policy", read)
    assert ["policy", stored.key, stored.digest] == chain.named(row)
    assert stored.key == an_id("policy").hex
    assert (stored.family, stored.arrival) == (None, None)


def test_links_of_one_chain_follow_one_another_and_two_chains_do_not_mix():
    for number in range(3):
        policies.append(an_id(f"policy {number}"), {}, entered_at=BORN_AT, entered_by="x")
    chain.bind("other", [["policy", "0", "0"]])
    links = list(models.Link.objects.filter(chain="policy").order_by("number"))
    assert [link.number for link in links] == [1, 2, 3]
    before = ""
    for link in links:
        names = [list(name) for name in chain.canonical_json(link.rows)]
        assert link.hash == chain.link_hash("policy", link.number, link.made_at, before, names)
        assert link.made_at <= datetime.now(UTC)
        before = link.hash
    head = models.ChainHead.objects.get(chain="policy")
    assert (head.number, head.hash) == (3, before)
    assert models.ChainHead.objects.get(chain="other").number == 1
