"""What somebody writes into an address is refused in words; a digit of another script, year 1, half a character."""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import quote
from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from suffice.care import uploads
from suffice.web.fields.sent import number_sent

pytestmark = pytest.mark.both_engines

ODD: Final = (
    "²",
    "٣",
    "0001-01-01T00:00",
    "0001-01-01T00:00+14:00",
    "9999-12-31T23:59Z",
    "\x00",
    "9" * 40,
    "9" * 5000,
    "-1",
)


@pytest.mark.parametrize("value", ODD)
def test_a_list_and_a_family_are_shown_or_refused_whatever_stands_in_their_address(
    page: Client, family: UUID, value: str
) -> None:
    of = f"/families/{family}/"
    asked = [
        ("/", "page"),
        ("/trail/", "before"),
        (of, "as_of"),
        (of, "known_by"),
        (f"{of}entries/", "page"),
        (f"{of}papers/plan/", "page"),
        (f"{of}papers/", "as_of"),
    ]
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


@pytest.mark.parametrize("value", ODD)
def test_numbers_of_forms_are_refused_or_left_alone_whatever_they_are(
    page: Client, family: UUID, value: str
) -> None:
    answer = page.post("/emergency/opened/", {"seen": value})
    assert answer.status_code == 302
    html = page.get(f"/families/{family}/log/").content.decode()
    names = set(re.findall(r'<input[^>]*name="([^"]+)"[^>]*class="tick"', html))
    names |= set(re.findall(r'<input[^>]*class="tick"[^>]*name="([^"]+)"', html))
    if names:
        answer = page.post(f"/families/{family}/log/", dict.fromkeys(names, value))
        assert answer.status_code in {200, 302, 400}


def test_only_plain_digits_within_their_bound_are_a_number() -> None:
    assert [number_sent(one, 99) for one in ("0", "7", "99", "007"[:2])] == [0, 7, 99, 0]
    assert [number_sent(one, 99) for one in ("", "100", "²", "٣", "-1", "9" * 5000)] == [None] * 6


@pytest.mark.parametrize("what", ["gape\r\nX-A: b", "\x00", "ñ漢", "a b#c"])
def test_an_answer_to_a_question_that_nobody_asked_leads_back_by_script_too(
    page: Client, family: UUID, what: str
) -> None:
    contact = f"/families/{family}/contact/"
    page.post(contact, {"place": "home", "key": str(uuid4())})
    sent = {"key": str(uuid4()), "contact": str(uuid4()), "what": what, "answer": "x", "side": ""}
    answer = page.post(f"{contact}latch/answer/", sent, headers={"X-Kept-Form": "yes"})
    assert answer.status_code == 204
    assert answer["X-Go"] == f"{contact}latch/#{quote(what)}"
    assert answer["X-Refused"] == "yes"
    assert "X-A" not in answer
