"""A screen that nobody uses is covered in place; the passphrase lifts the cover and nothing is lost."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.conftest import PHONE
from browser.sessions import PASSPHRASE

pytestmark = pytest.mark.browser
IDLE_MS = 31 * 60 * 1000


@pytest.fixture
def screen(chromium: Browser, address: str) -> Page:
    """A phone with a clock of its own, signed in."""
    context = chromium.new_context(viewport=PHONE, base_url=address)
    page = context.new_page()
    page.clock.install()
    page.goto("/sign-in/")
    page.get_by_label("Name").fill("consultant")
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url("**/")
    yield page
    context.close()


def a_form(page: Page) -> str:
    page.goto(page.locator("tr.family a").first.get_attribute("href") or "")
    name = page.locator("h1").inner_text()
    page.goto(f"{page.url}enter/note/")
    page.locator("textarea").fill("half a note")
    return name


def test_nothing_is_seen_until_the_passphrase_and_what_was_typed_is_there(screen: Page) -> None:
    name = a_form(screen)
    screen.clock.fast_forward(IDLE_MS)
    cover = screen.get_by_role("dialog", name="Locked")
    expect(cover).to_be_visible()
    expect(cover.get_by_label("Passphrase")).to_be_focused()
    expect(screen.locator("main")).to_be_hidden()
    screen.keyboard.press("Escape")
    expect(cover).to_be_visible()
    expect(screen.get_by_text(name)).to_be_hidden()
    cover.get_by_label("Passphrase").fill("a wrong one")
    cover.get_by_role("button", name="Unlock").click()
    expect(cover.get_by_role("alert").first).to_contain_text("do not go together")
    cover.get_by_label("Passphrase").fill(PASSPHRASE)
    cover.get_by_role("button", name="Unlock").click()
    expect(cover).to_be_hidden()
    expect(screen.locator("textarea")).to_have_value("half a note")


def test_a_form_that_no_script_keeps_can_still_be_sent_after_it(screen: Page) -> None:
    screen.goto("/account/")
    screen.get_by_label("Your name").fill("Marta")
    screen.clock.fast_forward(IDLE_MS)
    cover = screen.get_by_role("dialog", name="Locked")
    cover.get_by_label("Passphrase").fill(PASSPHRASE)
    cover.get_by_role("button", name="Unlock").click()
    expect(cover).to_be_hidden()
    screen.get_by_role("button", name="Save", exact=True).click()
    expect(screen.locator(".messages")).to_contain_text("Saved.")
    screen.get_by_label("Your name").fill("")
    screen.get_by_role("button", name="Save", exact=True).click()
    # A tab that is closed while a page is on its way may never close.
    expect(screen.get_by_label("Your name")).to_have_value("")
    screen.wait_for_load_state()


def test_typing_keeps_it_open(screen: Page) -> None:
    a_form(screen)
    for _ in range(4):
        screen.clock.fast_forward(IDLE_MS // 2)
        screen.locator("textarea").press("x")
    expect(screen.get_by_role("dialog", name="Locked")).to_be_hidden()


def test_every_page_of_the_browser_is_covered_with_it(screen: Page) -> None:
    other = screen.context.new_page()
    other.goto("/library/")
    screen.clock.fast_forward(IDLE_MS)
    expect(other.get_by_role("dialog", name="Locked")).to_be_visible()
