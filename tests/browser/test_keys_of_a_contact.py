"""A contact by the keyboard of a laptop alone: no pointer is used after the family's page is open."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import Visit
from browser.hand import open_family

SLOW_MS = 20_000
"""For a page that is loaded while the machine is busy with other tests."""


@pytest.fixture
def family(visit: Visit, address: str) -> Page:
    page = visit("/")
    page.goto(f"{address}{open_family(page, address, 'Keynes Testcase')}")
    expect(page.locator('[data-key="s"]')).to_be_visible()
    return page


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def heading(page: Page, says: str) -> None:
    expect(page.locator("h1")).to_contain_text(says, timeout=SLOW_MS)
    page.wait_for_load_state("load")


def to_link(page: Page, name: str) -> None:
    """Down with j to a part of the contact, and into it."""
    part = page.locator(".parts").get_by_role("link", name=name).first
    for _ in range(page.locator(".problem > summary, .parts a").count()):
        press(page, "j")
        if part.evaluate("(one) => one === document.activeElement"):
            break
    expect(part).to_be_focused()
    press(page, "Enter")
    heading(page, name)


def to_question(page: Page, what: str) -> None:
    first = page.locator(f"#{what} form").first
    for _ in range(page.locator("form[data-answer]").count()):
        press(page, "j")
        if first.evaluate("(one) => one.contains(document.activeElement)"):
            break
    assert first.evaluate("(one) => one.contains(document.activeElement)"), what


def stored(page: Page) -> None:
    expect(page.locator("[data-sending]")).to_be_hidden(timeout=SLOW_MS)


def test_a_visit_from_its_start_to_what_it_points_to(family: Page) -> None:
    page = family
    press(page, "s")
    heading(page, "Start a contact")
    press(page, "j", "Enter")
    heading(page, "Contact")
    to_link(page, "Nipple")

    to_question(page, "nipple_after")
    press(page, "2")
    creased = page.locator("#nipple_after").get_by_role("button", name="Creased").first
    expect(creased).to_have_attribute("aria-pressed", "true")
    expect(creased).to_be_focused()
    press(page, "2")
    expect(creased).to_have_attribute("aria-pressed", "false")
    press(page, "2")
    expect(creased).to_have_attribute("aria-pressed", "true")
    to_question(page, "nipple_harm")
    crack = page.locator("#nipple_harm").get_by_label("Crack").first
    press(page, "6")
    expect(crack).to_be_checked()
    stored(page)
    press(page, "e")
    expect(
        page.locator("#nipple_rest").get_by_role("button", name="Everted").first
    ).to_have_attribute("aria-pressed", "true", timeout=SLOW_MS)
    expect(crack).to_be_checked()
    page.wait_for_load_state("load")
    press(page, "n")
    heading(page, "Pain")

    press(page, "j")
    left, right = page.locator("#pain_start form[data-answer]").all()
    seven = left.locator("[data-value='7']")
    # On a scale the digit is the point that it names, and 0 is one.
    press(page, "0", "7")
    expect(seven).to_be_focused()
    press(page, "j")
    expect(right.locator("[data-value='0']")).to_be_focused()
    # As it is written: typed 1 and 0 it is the worst pain, not none.
    press(page, "1", "0")
    expect(right.locator("[data-value='10']")).to_have_attribute("aria-pressed", "true")
    press(page, "5", "j")
    expect(page.locator("#pain_end .choice").first).to_be_focused()
    press(page, "ArrowUp")
    expect(right.locator("[data-value='5']")).to_be_focused()
    stored(page)
    press(page, "a")
    heading(page, "Contact")
    expect(page.locator(".problem").first).to_contain_text("Nipple pain", timeout=SLOW_MS)
    press(page, "j")
    expect(page.locator(".problem > summary").first).to_be_focused()
    page.go_back()
    expect(seven).to_have_attribute("aria-pressed", "true")
    expect(right.locator("[data-value='5']")).to_have_attribute("aria-pressed", "true")


def test_letters_are_typed_where_words_are_asked_for_and_all_keys_can_be_off(family: Page) -> None:
    page = family
    press(page, "s")
    expect(page.locator("h1")).to_have_text(re.compile("contact", re.IGNORECASE), timeout=SLOW_MS)
    if page.locator(".places").count():
        page.locator("#reason").focus()
        page.keyboard.type("jas1 n")
        expect(page.locator("#reason")).to_have_value("jas1 n")
        press(page, "Tab", "Shift+Tab")
        page.locator(".places button").first.press("Enter")
    heading(page, "Contact")
    to_link(page, "Pain")
    page.evaluate("localStorage.setItem('suffice-keys-off', '1')")
    page.reload()
    expect(page.locator(".for-keys")).to_be_hidden()
    press(page, "j")
    expect(page.locator("#pain_start .choice").first).not_to_be_focused()
    page.evaluate("localStorage.removeItem('suffice-keys-off')")
    page.reload()
    expect(page.locator(".for-keys")).to_be_visible()
