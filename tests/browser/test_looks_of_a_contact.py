"""How the answers of a contact look: on paper, in Spanish on a phone, and one line of what to ask next."""

from __future__ import annotations

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from browser.conftest import PHONE, Visit
from browser.hand import open_family_unseen
from browser.test_contact import wait_for_kept
from browser.test_languages import use_language

SMALL = """() => [...document.querySelectorAll('main .choice, main button')]
  .filter((one) => one.checkVisibility())
  .map((one) => [one.textContent.trim().split(/\\s/)[0], one.getBoundingClientRect()])
  .filter(([, box]) => box.width < 44 || box.height < 44)
  .map(([says, box]) => `${says} ${Math.round(box.width)} x ${Math.round(box.height)}`)"""


@pytest.fixture
def latch(device: BrowserContext, address: str, paths: list[str]) -> Page:
    """The latch of a second contact of this file's own family; the first found a mouth open wide."""
    page = device.new_page()
    if not paths:
        paths.append(open_family_unseen(page, address, "Vista Testcase"))
        for answer in ("Wide", "Short of it"):
            page.goto(f"{address}{paths[0]}contact/")
            page.get_by_role("button", name="Home", exact=True).click()
            page.get_by_role("link", name="Latch").click()
            page.locator("#gape").get_by_role("button", name=answer).first.click()
            wait_for_kept(page, 0)
            if answer == "Wide":
                page.goto(f"{address}{paths[0]}contact/")
                page.get_by_role("link", name="End it and plan the next").click()
                page.get_by_role("button", name="Save", exact=True).click()
                page.wait_for_url("**/papers/**")
    page.goto(f"{address}{paths[0]}contact/latch/")
    return page


def test_on_paper_an_answer_is_darker_than_what_was_not_chosen(latch: Page) -> None:
    short = latch.locator("#gape").get_by_role("button", name="Short of it").first
    expect(short).to_have_attribute("aria-pressed", "true")
    latch.emulate_media(media="print")
    expect(short).to_have_css("color", "rgb(0, 0, 0)")
    width = "(one) => parseFloat(getComputedStyle(one).borderTopWidth)"
    other = latch.locator("#gape").get_by_role("button", name="Wide").first
    assert short.evaluate(width) > other.evaluate(width)
    mark = "(one) => getComputedStyle(one, '::before').content"
    assert short.evaluate(mark) == '"✓"'
    assert other.evaluate(mark) == "none"


def test_on_paper_nothing_of_the_last_contact_can_be_pressed(latch: Page) -> None:
    was = latch.locator(".was").first
    expect(was).to_contain_text("Was: wide (")
    latch.emulate_media(media="print")
    for_paper = latch.locator(".was button, .written button, .number button, .marks")
    assert not any(one.is_visible() for one in for_paper.all())


def test_what_was_stands_in_its_brackets(latch: Page) -> None:
    assert "( " not in latch.locator(".was").first.inner_text()


def test_each_answer_is_as_large_as_a_finger_in_spanish(
    latch: Page, visit: Visit, paths: list[str], address: str
) -> None:
    del latch
    page = visit(f"{paths[0]}contact/", viewport=PHONE)
    parts = page.locator(".parts a").evaluate_all("links => links.map(one => one.href)")
    assert len(parts) > 8
    use_language(page, address, "es")
    small = {}
    try:
        for path in parts:
            page.goto(path)
            if found := page.evaluate(SMALL):
                small[path] = found
    finally:
        use_language(page, address, "en")
    assert small == {}


def test_what_to_ask_next_is_whole_on_a_phone_in_spanish(
    latch: Page, visit: Visit, paths: list[str], address: str
) -> None:
    """Its first words alone say nothing: 'Pañales mojados: mu…'."""
    del latch
    page = visit(f"{paths[0]}contact/latch/", viewport=PHONE)
    use_language(page, address, "es")
    try:
        page.goto(f"{address}{paths[0]}contact/latch/")
        name = page.locator("[data-ask-next] [data-name]")
        expect(name).to_be_visible()
        cut = "(one) => [one.scrollWidth - one.clientWidth, one.scrollHeight - one.clientHeight]"
        assert max(name.evaluate(cut)) <= 1
    finally:
        use_language(page, address, "en")
