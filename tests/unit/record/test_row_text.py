"""Columns fetched as text are read as Django's own converters read them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.record.row_text import identities, instant

WHOLE = st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1))  # noqa: DTZ001 -- the zone is told below


@given(WHOLE, st.sampled_from(["", "+00"]))
def test_an_instant_is_the_one_that_either_engine_wrote(at: datetime, zone: str):
    read = instant(f"{at.isoformat(sep=' ')}{zone}")
    assert read == at.replace(tzinfo=UTC)
    assert read.utcoffset() == timedelta(0)
    assert read.tzinfo is UTC


@pytest.mark.parametrize(
    "text", ["2026-11-30", "2026-11-30T08:00:00Z", "2026-11-30 08:00:00+00:00"]
)
def test_another_way_of_writing_it_is_read_too(text: str):
    assert instant(text).date().isoformat() == "2026-11-30"
    assert instant(text).tzinfo is UTC


@pytest.mark.parametrize("text", ["", "soon", "2026-13-01 00:00:00", "2026-11-30 08:00:00+0x"])
def test_what_is_no_instant_is_refused(text: str):
    with pytest.raises(ValueError, match=r"(?i)isoformat|month"):
        instant(text)


@given(st.lists(st.uuids(), max_size=5), st.booleans())
def test_ids_are_read_with_their_hyphens_and_without(keys: list[UUID], hyphens: bool):
    assert identities([str(key) if hyphens else key.hex for key in keys]) == keys


def test_an_id_in_another_form_is_read_and_one_that_is_none_is_refused():
    key = UUID("6f1d2d3c-0000-4000-8000-00000000abcd")
    assert identities([f"{{{key}}}", key.hex]) == [key, key]
    with pytest.raises(ValueError, match="badly formed"):
        identities([key.hex, "6f1d"])
