"""The end of a contact: what is still open is listed, red flags that nobody was told of first."""

from __future__ import annotations

import re
from html import unescape

from django.test import Client

from suffice.care.contact.visit import Visit
from web.test_contact import CONTACT, contact, tap
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
