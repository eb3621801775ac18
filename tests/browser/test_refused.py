"""What could not be done: seen, read out, in view, and like no success, in light and dark."""

from __future__ import annotations

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from browser.conftest import LAPTOP, PHONE
from browser.hand import open_family_unseen
from browser.test_every_page import NARROW, faults_of

LOOK = """(one) => {
  const style = getComputedStyle(one);
  return [style.backgroundColor, style.borderBlockStartColor, style.borderBlockStartWidth];
}"""


@pytest.fixture
def tab(device: BrowserContext, address: str, paths: list[str]) -> Page:
    """A tab at the contact of this file's own family."""
    page = device.new_page()
    if not paths:
        paths.append(open_family_unseen(page, address, "Refusa Testcase"))
        page.goto(f"{address}{paths[0]}")
        page.get_by_role("link", name="Start a contact").click()
        page.get_by_role("button", name="Home", exact=True).click()
        expect(page.get_by_role("link", name="Latch")).to_be_visible()
    page.goto(f"{address}{paths[0]}contact/")
    return page


@pytest.mark.parametrize(
    ("scheme", "size"), [("light", PHONE), ("dark", LAPTOP), ("light", NARROW), ("dark", NARROW)]
)
def test_a_refusal_has_a_look_of_its_own_and_no_fault(
    tab: Page, address: str, paths: list[str], scheme: str, size: dict[str, int]
) -> None:
    tab.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    tab.set_viewport_size(size)  # type: ignore[arg-type]
    tab.goto(f"{address}{paths[0]}")
    tab.locator(".quick").get_by_role("button", name="Wet").click()
    done = tab.locator("#done .messages li").first
    expect(done).to_contain_text("Saved")
    looks_done = done.evaluate(LOOK)
    tab.goto(f"{address}{paths[0]}contact/score/latch/")
    tab.get_by_role("button", name="Save the total").click()
    refused = tab.get_by_role("alert")
    expect(refused).to_contain_text("Choose a number in each row")
    expect(refused).to_be_focused()
    expect(refused).to_be_in_viewport()
    expect(tab.locator(".messages")).to_have_count(0)
    looks_refused = refused.evaluate(LOOK)
    assert [a for a, b in zip(looks_done, looks_refused, strict=True) if a == b] == []
    assert faults_of(tab) == []


def test_a_refusal_is_in_view_though_what_was_answered_stands_far_down(
    tab: Page, address: str, paths: list[str]
) -> None:
    tab.goto(f"{address}{paths[0]}contact/nipple/")
    asked: list[bool] = []
    tab.on(
        "request",
        lambda one: asked.append(one.is_navigation_request()) if one.url == tab.url else None,
    )
    number = tab.locator("#nipple_mm input[name=answer]").first
    number.scroll_into_view_if_needed()
    number.fill("900")
    number.press("Enter")
    refused = tab.get_by_role("alert").filter(has_text="Not done")
    expect(refused).to_contain_text("OBSERVATION-")
    expect(refused).to_be_in_viewport()
    # A script that asked for the page meanwhile was told the reason, and the person was not.
    assert asked == [True]
