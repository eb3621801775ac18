"""The two ends of a contact: what is still open is listed, and no device loses what it knew no better."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape
from uuid import uuid4

from django.test import Client

from suffice.care.contact.visit import Visit
from suffice.care.family.asking import record_of
from suffice.clinical.entry import Note
from web.story import FAMILY
from web.test_contact import CONTACT, answers, contact, tap, text_of
from web.test_handover import sent

__all__ = ["contact"]

MOTHER = {"infant": None, "side": None}
STATE, MOOD = f"{CONTACT}state/", f"{CONTACT}mood/"


def open_things(page: Client) -> list[str]:
    """What the page of the contact lists as still open, in its order."""
    html = page.get(CONTACT).content.decode()
    listed = html.split('class="lacks"')[1].split("</ul>")[0]
    return [" ".join(unescape(one).split()) for one in re.findall(r">([^<]+)</a>", listed)]


def test_a_red_flag_stands_first_until_somebody_was_told(page: Client, contact: Visit) -> None:
    page.post(f"{STATE}answer/", tap(contact, "rousing", "not", side=None))
    first = open_things(page)[0]
    assert first.startswith("Not handed over: ")
    assert "woken" in first
    html = page.get(CONTACT).content.decode().split('class="lacks"')[1]
    link = unescape(re.findall(r'href="([^"]+enter/handover/[^"]+)"', html)[0])
    assert page.post(link, sent(page, link))["Location"] == CONTACT
    assert first not in open_things(page)


def test_a_mood_total_without_its_self_harm_item_is_open(page: Client, contact: Visit) -> None:
    said = "Mood: a total, and the self-harm item was not asked"
    assert said not in open_things(page)
    page.post(f"{MOOD}answer/", tap(contact, "mood_total", "13", **MOTHER))
    assert said in open_things(page)
    page.post(f"{MOOD}answer/", tap(contact, "self_harm_item", "never", **MOTHER))
    assert said not in open_things(page)


def test_what_a_second_device_wrote_for_the_start_is_kept_as_a_note(
    page: Client, contact: Visit
) -> None:
    del contact
    sent = {"place": "clinic", "key": str(uuid4()), "reason": "it hurts", "goal": ""}
    for _ in range(2):
        page.post(CONTACT, sent)
    notes = [one.fact.text for one in record_of(FAMILY).entries if isinstance(one.fact, Note)]
    assert notes.count("Reason, in the family's words: it hurts") == 1
    assert "kept as a note" in text_of(page, CONTACT)
    page.post(CONTACT, sent | {"key": str(uuid4()), "reason": ""})
    after = [one for one in record_of(FAMILY).entries if isinstance(one.fact, Note)]
    assert len(after) == len(notes)


def test_an_answer_to_a_contact_that_another_device_ended_is_kept_and_the_page_says_so(
    page: Client, contact: Visit
) -> None:
    end = {"entry_id": str(uuid4()), "setting": "home", "basis": "observed"}
    end |= {"contact_id": str(contact.id), "when": f"{datetime.now(UTC):%FT%T.%f}"}
    page.post(f"/families/{FAMILY}/enter/contact/", end)
    answer = page.post(f"{STATE}answer/", tap(contact, "rousing", "by_itself", side=None))
    # The script loads the page again.
    assert answer["X-Refused"] == "yes"
    assert answers("rousing") == ["by_itself"]
    assert page.get(STATE)["Location"] == CONTACT
    assert "The last contact was ended by" in text_of(page, CONTACT)
