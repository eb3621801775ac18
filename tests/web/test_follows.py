"""What follows from an answer of a contact stands at its question when the page is loaded again."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from uuid import uuid4

from django.test import Client

from suffice.care.contact.visit import Visit
from web.test_contact import CONTACT, SCRIPT, tap
from web.test_drawing import contact

__all__ = ["contact"]

STATE = f"{CONTACT}state/"


def follows(page: Client) -> dict[str, str]:
    """Question to what stands below it."""
    html = page.get(STATE).content.decode()
    found = re.findall(r'<div data-doubts="(\w+)"[^>]*>(.*?)</div>', html, re.DOTALL)
    plain = {
        what: " ".join(unescape(re.sub(r"<[^>]+>", " ", inner)).replace("\xa0", " ").split())
        for what, inner in found
    }
    return {what: said for what, said in plain.items() if said}


def answer(page: Client, contact: Visit, what: str, given: str) -> None:
    """Answers about the infant."""
    sent = tap(contact, what, given, side=None)
    stored = page.post(f"{STATE}answer/", sent, headers=SCRIPT)
    assert "X-Refused" not in stored, what


def test_a_day_without_milk_is_said_where_it_was_entered(page: Client, contact: Visit) -> None:
    answer(page, contact, "last_milk_h", "30")
    (said,) = follows(page).values()
    assert "No milk for 30 h up to" in said
    assert "feed now" in said
    assert set(follows(page)) == {"last_milk_h"}


def test_an_hour_without_milk_says_nothing(page: Client, contact: Visit) -> None:
    answer(page, contact, "last_milk_h", "1")
    assert follows(page) == {}


def test_an_answer_that_is_a_sign_is_said_too(page: Client, contact: Visit) -> None:
    answer(page, contact, "rousing", "not")
    assert "Cannot be woken" in follows(page)["rousing"]


def test_what_was_said_before_this_contact_stands_at_no_question(
    page: Client, contact: Visit
) -> None:
    answer(page, contact, "last_milk_h", "30")
    end = {"entry_id": str(uuid4()), "setting": "home", "basis": "observed"}
    when = datetime.now(UTC) + timedelta(milliseconds=1)
    page.post(
        f"{CONTACT.removesuffix('contact/')}enter/contact/", end | {"when": f"{when:%FT%T.%f}"}
    )
    page.post(CONTACT, {"place": "clinic", "key": str(uuid4())})
    assert follows(page) == {}
