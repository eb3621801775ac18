"""An instant that a page sends is one that a record can hold, or it is refused."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django import forms

from suffice.web.fields.instant import InstantField, instant_sent


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2026-11-25T10:30",
        "2026-11-25T10:30+25:00",
        "0001-01-01T00:00+14:00",
        "9999-12-31T23:59:59.999999-14:00",
        "1899-12-31T23:59:59+00:00",
        "tomorrow",
    ],
)
def test_what_no_page_writes_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        instant_sent(text)
    with pytest.raises(forms.ValidationError):
        InstantField().clean(text)


def test_an_instant_comes_back_in_utc() -> None:
    sent = InstantField().clean("2026-11-25T10:30:00.250000+02:00")
    assert sent == datetime(2026, 11, 25, 8, 30, 0, 250_000, tzinfo=UTC)
    assert sent.tzinfo is UTC
