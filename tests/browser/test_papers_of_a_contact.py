"""What a contact owes, on a phone: the plan kept, the note signed, plan and letter ready to print."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import PHONE, Visit
from browser.hand import PAPERS, Hand, assert_recorded, open_family_unseen

TWO_MINUTES_S = 120
SLOW_MS = 40_000
"""For a page that makes a paper or a day while the machine is busy with other tests."""


@pytest.fixture
def phone(visit: Visit, address: str) -> Page:
    """A contact in progress with an infant of three days, its last finding entered."""
    page = visit("/", is_new_session=True, viewport=PHONE, has_touch=True)
    page.set_default_timeout(SLOW_MS)
    path = open_family_unseen(page, address, "Papira Testcase")
    page.goto(f"{address}{path}contact/")
    page.get_by_role("button", name="Home", exact=True).click()
    page.get_by_role("link", name="Latch").first.click()
    page.locator("#gape").get_by_role("button", name="Short of it").first.click()
    page.get_by_role("button", name="I looked: as expected").click()
    page.get_by_role("link", name="All parts").first.click()
    expect(page.get_by_text("Shallow latch").first).to_be_visible(timeout=SLOW_MS)
    page.wait_for_load_state("load")
    return page


def test_from_the_last_finding_to_signed_note_plan_and_letter(phone: Page) -> None:
    hand = Hand(phone)
    main = phone.locator("main")

    def says(text: str) -> None:
        expect(phone.locator(".messages")).to_contain_text(text, timeout=SLOW_MS)
        expect(hand.said()).to_contain_text(text)

    def paper(name: str) -> None:
        hand.tap(main.get_by_role("link", name=name).first)
        expect(phone.locator("#shown")).to_contain_text(name, timeout=SLOW_MS)
        expect(main.get_by_role("link", name="Open to print")).to_be_visible()

    hand.tap(main.get_by_role("link", name="Plan", exact=True))
    hand.tap(phone.get_by_role("button", name="Keep this plan"))
    expect(phone.get_by_role("heading", name="The last plan")).to_be_visible(timeout=SLOW_MS)
    hand.tap(main.get_by_role("link", name="Go on with the contact"))
    hand.tap(main.get_by_role("link", name="End it and plan the next"))
    hand.sheet()
    hand.tap(hand.save())
    says("Saved: Contact")
    hand.tap(phone.get_by_role("button", name="Sign this note"))
    says("Signed.")
    paper("Feeding plan for Ada")
    hand.tap(phone.get_by_role("button", name="Given to the family"))
    says("Put down as given.")
    paper("Letter to a physician about Ada")
    assert hand.seconds() < TWO_MINUTES_S
    assert_recorded(PAPERS, hand.effort())


def test_the_parents_day_leads_back_to_the_plan_of_the_infant(phone: Page) -> None:
    phone.locator("main").get_by_role("link", name="Plan", exact=True).click()
    phone.get_by_role("link", name="Enter the parent's day").click()
    sheet = phone.locator("dialog[open]")
    sheet.locator("input[name=sleep_h], #id_sleep").first.fill("5")
    sheet.get_by_role("button", name="Save", exact=True).click()
    phone.wait_for_url(re.compile(r"/plan/\?infant=[0-9a-f-]{36}$"))
    expect(phone.get_by_role("heading", name="Can it be done?")).to_be_visible(timeout=SLOW_MS)
