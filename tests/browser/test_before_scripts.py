"""A hand that is quicker than the scripts of a page: nothing typed is lost, nothing saved is doubled."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import BrowserContext, Page, Route, expect

from browser.conftest import UNSENT, entries_of
from browser.hand import open_family_unseen

FAMILY = re.compile(r"/families/[0-9a-f-]{36}/$")
SCRIPT = re.compile(r"\.js(\?.*)?$")
NOTE = "textarea[name=text]"
SAVE = "main button:text-is('Save')"


class Slow:
    """A network on which the pages come at once, and their scripts once they are let go."""

    def __init__(self, device: BrowserContext) -> None:
        self.device = device
        self.held: list[Route] = []
        self.is_slow = True
        device.route(SCRIPT, self._pass)

    def _pass(self, route: Route) -> None:
        if self.is_slow:
            self.held.append(route)
        else:
            route.continue_()

    def arrive(self, address: str) -> Page:
        """A page that can be read and pressed, and of which no script has run."""
        self.is_slow = True
        page = self.device.new_page()
        page.goto(address, wait_until="commit")
        page.wait_for_selector("footer.foot")
        return page

    def let_go(self) -> None:
        """All of the scripts arrive, those that they ask for too."""
        self.is_slow = False
        while self.held:
            self.held.pop().continue_()


@pytest.fixture
def family(device: BrowserContext, address: str, paths: list[str]) -> str:
    """The address of a family of this file's own."""
    if not paths:
        page = device.new_page()
        paths.append(open_family_unseen(page, address, "Celeri Testcase"))
        page.close()
    return f"{address}{paths[0]}"


@pytest.fixture
def slow(device: BrowserContext, family: str) -> Iterator[Slow]:
    network = Slow(device)
    yield network
    device.unroute_all(behavior="ignoreErrors")


def count(page: Page, family: str) -> int:
    return entries_of(page, "/" + family.split("/", 3)[3])


def test_saved_twice_before_the_scripts_came_is_one_entry(slow: Slow, family: str) -> None:
    page = slow.arrive(f"{family}enter/note/")
    before = count(page, family)
    page.fill(NOTE, "quicker than any script")
    page.dblclick(SAVE)
    page.wait_for_url(FAMILY, wait_until="commit")
    slow.let_go()
    expect(page.locator(".messages")).to_contain_text("Saved: Note")
    assert count(page, family) == before + 1
    assert page.evaluate(UNSENT) == []


def test_a_diaper_tapped_twice_before_the_scripts_came_is_one_entry(
    slow: Slow, family: str
) -> None:
    page = slow.arrive(family)
    before = count(page, family)
    page.dblclick(".quick button[value=wet]")
    page.wait_for_selector(".messages")
    slow.let_go()
    expect(page.locator(".messages")).to_contain_text("Saved: wet diaper")
    assert count(page, family) == before + 1
    assert page.evaluate(UNSENT) == []


def test_typed_before_the_scripts_came_is_kept_by_them(slow: Slow, family: str) -> None:
    page = slow.arrive(f"{family}enter/note/")
    page.fill(NOTE, "typed at once")
    slow.let_go()
    expect(page.locator("form[data-watched]")).to_have_count(1)
    page.close()
    page = slow.device.new_page()
    page.goto(f"{family}enter/note/")
    expect(page.locator(NOTE)).to_have_value("typed at once")
    page.get_by_role("button", name="Throw it away").click()
    expect(page.locator(NOTE)).to_have_value("")
    assert page.evaluate(UNSENT) == []


def test_typed_before_the_scripts_came_is_not_overwritten_by_what_was_kept(
    slow: Slow, family: str
) -> None:
    slow.let_go()
    page = slow.device.new_page()
    page.goto(f"{family}enter/weight/")
    page.get_by_label("Weight", exact=True).fill("3111")
    page.get_by_text("Clothed", exact=True).click()
    page.close()
    page = slow.arrive(f"{family}enter/weight/")
    page.fill("input[name=weight]", "3200")
    slow.let_go()
    expect(page.locator("form .unsent")).to_be_visible()
    expect(page.locator("input[name=weight]")).to_have_value("3200")
    expect(page.get_by_label("Clothed")).to_be_checked()
    page.get_by_role("button", name="Throw it away").click()
    expect(page.locator("input[name=weight]")).to_have_value("")


def test_what_the_next_page_confirms_is_not_offered_again(slow: Slow, family: str) -> None:
    """A form may be on its way in the browser's own manner when the scripts come and keep it."""
    page = slow.arrive(f"{family}enter/note/")
    before = count(page, family)
    page.fill(NOTE, "under way")
    page.focus(SAVE)
    slow.let_go()
    expect(page.locator("form[data-watched]")).to_have_count(1)
    assert len(page.evaluate(UNSENT)) == 1
    page.evaluate("document.querySelector('main form[data-kept]').submit()")
    page.wait_for_url(FAMILY)
    expect(page.locator(".messages")).to_contain_text("Saved: Note")
    expect(page.locator("main > .unsent")).to_have_count(0)
    assert page.evaluate(UNSENT) == []
    assert count(page, family) == before + 1
