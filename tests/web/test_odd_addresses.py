"""What somebody writes into an address is refused in words; a digit of another script, year 1, half a character."""

from __future__ import annotations

from typing import Final
from uuid import UUID

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from suffice.care import uploads

ODD: Final = (
    "²",
    "٣",
    "0001-01-01T00:00",
    "0001-01-01T00:00+14:00",
    "9999-12-31T23:59Z",
    "\x00",
    "9" * 40,
)


@pytest.mark.parametrize("value", ODD)
def test_a_list_and_a_family_are_shown_or_refused_whatever_stands_in_their_address(
    page: Client, family: UUID, value: str
) -> None:
    asked = [("/", "page"), (f"/families/{family}/", "as_of"), (f"/families/{family}/", "known_by")]
    for address, name in asked:
        answer = page.get(address, {name: value})
        assert answer.status_code in {200, 400, 404}, (address, name)


def test_a_file_for_which_there_is_no_room_is_refused_at_its_field(
    page: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(uploads, "QUOTA_BYTES", 10)
    before = set(uploads.folder().iterdir())
    sent = SimpleUploadedFile("weights.csv", b"date,weight\n2026-11-25,3150\n")
    answer = page.post("/import/", {"file": sent, "family": ""})
    assert answer.status_code == 200
    assert "FORM-014" in answer.content.decode()
    assert set(uploads.folder().iterdir()) <= before
