"""What could not be done is never said in the box of what was done."""

from __future__ import annotations

import re
from html import unescape
from uuid import UUID

import pytest
from django.test import Client

from suffice.care.contact.visit import Visit
from web.story import FAMILY, an_id
from web.test_contact import CONTACT, LATCH, tap, visit
from web.test_quick import QUICK
from web.test_quick import tap as diaper


@pytest.fixture
def contact(page: Client, family: UUID) -> Visit:
    page.post(CONTACT, {"place": "home", "key": str(an_id("start"))})
    return visit()


def box(html: str, role: str) -> str:
    """The words in the box of a role; empty where there is none."""
    found = re.search(rf'<div[^>]* role="{role}".*?</div>', html, re.DOTALL)
    words = "" if found is None else re.sub(r"<[^>]+>", " ", found[0])
    return " ".join(unescape(words).split())


def test_what_was_refused_is_an_alert_of_its_own(page: Client, contact: Visit) -> None:
    page.post(f"{LATCH}answer/", tap(contact, "gape", "perfect"))
    html = page.get(CONTACT).content.decode()
    assert box(html, "alert").startswith("▲ Not done")
    assert "(OBSERVATION-003)" in box(html, "alert")
    assert box(html, "status") == ""
    assert 'class="messages"' not in html


def test_what_was_done_is_no_alert(page: Client, family: UUID) -> None:
    page.post(QUICK, diaper())
    html = page.get(f"/families/{FAMILY}/").content.decode()
    assert box(html, "status").startswith("Saved: wet diaper of Ava.")
    assert box(html, "alert") == ""


def test_what_was_done_and_what_was_refused_stand_apart(
    page: Client, family: UUID, contact: Visit
) -> None:
    page.post(QUICK, diaper())
    page.post(f"{LATCH}answer/", tap(contact, "gape", "perfect"))
    html = page.get(CONTACT).content.decode()
    assert "Saved" in box(html, "status")
    assert "OBSERVATION" not in box(html, "status")
    assert "(OBSERVATION-003)" in box(html, "alert")
    assert "Saved" not in box(html, "alert")


def test_a_script_that_asks_for_the_page_is_told_nothing_and_the_person_is(
    page: Client, contact: Visit
) -> None:
    page.post(f"{LATCH}answer/", tap(contact, "gape", "perfect"))
    asked_by_a_script = page.get(CONTACT, headers={"sec-fetch-mode": "cors"}).content.decode()
    assert box(asked_by_a_script, "alert") == ""
    shown = page.get(CONTACT, headers={"sec-fetch-mode": "navigate"}).content.decode()
    assert "(OBSERVATION-003)" in box(shown, "alert")


@pytest.mark.parametrize("kept", ["n-attachment", "n-hold"])
def test_a_total_of_some_numbers_is_refused_as_an_alert(
    page: Client, contact: Visit, kept: str
) -> None:
    html = page.post(f"{CONTACT}score/latch/", {kept: "2"}).content.decode()
    assert "a total of some of them is no total" in box(html, "alert")
