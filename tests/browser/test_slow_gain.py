"""A slow-gain visit on a phone, counted from 'Start a contact' to what the parents said back."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import PHONE, Visit
from browser.hand import SLOW_GAIN, Hand, assert_recorded, open_family_unseen

SIX_MINUTES_S = 360
BACKDATE = """when => { document.querySelector("[name=when-now]")?.remove();
                       const field = document.querySelector("input[data-local]");
                       field.value = when; field.form.dataset.timed = "yes"; }"""


@pytest.fixture
def phone(visit: Visit, address: str) -> Page:
    """The page of an infant of 20 days: 3200 g at birth, 3120 g ten days ago."""
    page = visit("/", is_new_session=True, viewport=PHONE, has_touch=True)
    path = open_family_unseen(page, address, "Gaia Testcase", days=20)
    page.goto(f"{address}{path}enter/weight/")
    page.locator("#id_weight").fill("3120")
    page.get_by_text("Naked", exact=True).click()
    page.evaluate(BACKDATE, f"{datetime.now(UTC) - timedelta(days=10):%Y-%m-%dT%H:%M}")
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_url(re.compile(f"{path}$"))
    return page


class InContact:
    """A hand on the pages of a contact."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.hand = Hand(page)

    def form(self, name: str, typed: dict[str, str], *, chosen: str = "", says: str) -> None:
        """Fill in a form from the contact's page; it leads back there."""
        self.hand.tap(self.page.locator("main").get_by_role("link", name=name, exact=True).first)
        self.hand.sheet()
        for place, (field, text) in enumerate(typed.items()):
            if place:
                self.hand.tap(self.page.locator(f"#id_{field}"))
            assert self.hand.focus()[0] == field
            self.hand.type(text)
        if chosen:
            self.hand.tap(self.hand.sheet().get_by_text(chosen, exact=True))
        self.hand.tap(self.hand.save())
        expect(self.hand.said()).to_contain_text(f"Saved: {says}")
        expect(self.page.locator("h1")).to_contain_text("Contact")

    def part(self, name: str) -> None:
        self.hand.tap(self.page.locator(".parts").get_by_role("link", name=name).first)
        expect(self.page.locator("h1")).to_contain_text(name)

    def looked(self, following: str = "") -> None:
        """As expected, and on to the next part or back to all."""
        self.hand.tap(self.page.get_by_role("button", name="I looked: as expected"))
        if not following:
            self.all_parts()
            return
        self.hand.tap(self.page.get_by_role("link", name=f"Next: {following}", exact=True))
        expect(self.page.locator("h1")).to_contain_text(following)

    def all_parts(self) -> None:
        self.hand.tap(self.page.get_by_role("link", name="All parts").first)

    def topic(self, what: str, name: str) -> None:
        self.hand.tap(self.page.locator(f"#{what}").get_by_label(name))


def test_slow_gain_visit(phone: Page) -> None:
    """Weighed, counted, watched and looked at; what it points to named; taught, and said back."""
    at = InContact(phone)
    at.hand.tap(phone.get_by_role("link", name="Start a contact"))
    at.hand.tap(phone.get_by_role("button", name="Clinic", exact=True))
    at.form("Weight", {"weight": "3160"}, chosen="Naked", says="Weight of Ada, 3160")
    at.form("Feeds in 24 h", {"count": "7"}, says="Feed")
    at.form("Diapers in 24 h", {"wets": "4", "stools": "1"}, says="count of the last 24 h")
    weights = {"before": "3160", "after": "3176"}
    at.form("Test weight", weights, chosen="Yes", says="Test weight of Ada")
    at.part("Parent's history")
    onset = phone.locator("#milk_onset_h")
    at.hand.tap(onset.locator("input.short"))
    at.hand.type("80")
    at.all_parts()
    at.part("Breast")
    at.hand.tap(phone.locator("#after_feed").get_by_role("button", name="As before").first)
    at.looked("Nipple")
    at.looked()
    at.part("State and tone")
    at.looked("Mouth")
    at.looked("Latch")
    at.looked("Watched feed")
    at.looked()
    expect(phone.get_by_text("Slow gain").first).to_be_visible()
    expect(phone.get_by_text("Supply or transfer?").first).to_be_visible()
    at.part("Teaching")
    for name in ("Feeding cues", "How to know"):
        at.topic("taught", name)
        at.topic("said_back", name)
    at.topic("tell_next", "Nothing is left")
    at.all_parts()
    expect(phone.get_by_text("Said back: feeding cues")).to_be_visible()
    assert at.hand.seconds() < SIX_MINUTES_S
    assert_recorded(SLOW_GAIN, at.hand.effort())
