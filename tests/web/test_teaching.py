"""What was taught, said back and left for the next contact: listed at the end, and shown the next time."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest
from django.test import Client

from suffice.care.contact.visit import Visit
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import load
from web.story import FAMILY, an_id
from web.test_contact import CONTACT, tap, text_of, visit

PART = f"{CONTACT}teaching/"


@pytest.fixture
def contact(page: Client, family: UUID) -> Visit:
    page.post(CONTACT, {"place": "home", "key": str(an_id("start"))})
    return visit()


def give(page: Client, contact: Visit, what: str, *topics: str) -> None:
    sent = tap(contact, what, list(topics), infant=None, side=None)
    assert "X-Refused" not in page.post(f"{PART}answer/", sent)


def end_and_start(page: Client) -> Visit:
    end = {"entry_id": str(uuid4()), "setting": "home", "basis": "observed"}
    page.post(f"/families/{FAMILY}/enter/contact/", end | {"when": f"{datetime.now(UTC):%FT%T.%f}"})
    page.post(CONTACT, {"place": "home", "key": str(uuid4())})
    return visit()


def test_the_three_ask_the_same_topics_by_the_same_keys() -> None:
    words = load().vocabularies[FOLDER]
    choices = []
    for key in ("taught", "said_back", "tell_next"):
        word = words[key]
        assert isinstance(word, Observable)
        choices.append({k: v for k, v in word.choices.items() if k != "none"})
    assert choices[0] == choices[1] == choices[2]


def test_what_was_taught_and_not_said_back_is_open_at_the_end(page: Client, contact: Visit) -> None:
    assert "Teaching: not looked at" in text_of(page, CONTACT)
    give(page, contact, "taught", "position", "enough")
    text = text_of(page, CONTACT)
    assert "Taught: positions and how to know that there is enough milk" in text
    assert "Taught, not said back yet: positions and how to know" in text
    assert "What to tell the parents next time: open" in text
    give(page, contact, "said_back", "position", "enough")
    give(page, contact, "tell_next", "none")
    text = text_of(page, CONTACT)
    assert "not said back yet" not in text
    assert "next time: open" not in text
    assert "Said back: positions and how to know that there is enough milk" in text


def test_nothing_is_taken_as_understood_because_nobody_asked(page: Client, contact: Visit) -> None:
    give(page, contact, "taught", "none")
    text = text_of(page, CONTACT)
    assert "Taught: nothing today" in text
    assert "Said back" not in text
    assert "not said back yet" not in text


def test_what_is_left_for_next_time_stands_on_the_next_contact_until_it_is_taught(
    page: Client, contact: Visit
) -> None:
    give(page, contact, "taught", "position")
    give(page, contact, "tell_next", "storing", "call")
    assert "Left for this contact" not in text_of(page, CONTACT)
    later = end_and_start(page)
    both = "storing and giving expressed milk and when to call, and whom"
    assert f"Left for this contact: {both}" in text_of(page, CONTACT)
    assert f"Was: {both}" in text_of(page, PART)
    give(page, later, "taught", "storing")
    text = text_of(page, CONTACT)
    assert "Left for this contact: when to call, and whom" in text
    assert "Left for this contact, not taught yet: when to call, and whom" in text
