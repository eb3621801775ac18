"""The Family page on a phone and a laptop: the answer above the fold, and little to scroll."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from browser.conftest import PHONE, Visit
from browser.hand import open_family_unseen

SCREENS = {
    "Marguerite Okoro-Santos": 5,
    "Esperanza Holloway": 5,
    "Noor Haverkamp": 5,
}
"""Twins, twins without an engine's answer, and a preterm infant; every other family fits into four."""
OTHERS = 4


def families(page: Page) -> dict[str, str]:
    """Name to address of every family of the caseload."""
    found: dict[str, str] = page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll('.caseload .name a')]
             .map(a => [a.innerText.trim(), a.getAttribute('href')]))"""
    )
    return found


def test_the_answer_stands_above_the_fold_of_a_phone_and_the_page_is_short(
    visit: Visit, address: str
) -> None:
    page = visit("/?discharged=1&whole=1", viewport=PHONE)
    listed = families(page)
    assert set(SCREENS) < set(listed)
    below, long = {}, {}
    # The other tests' families hold whatever those entered.
    for name, path in ((n, p) for n, p in listed.items() if not n.endswith("Testcase")):
        page.goto(f"{address}{path}")
        last: float = page.evaluate(
            """() => Math.max(...[...document.querySelectorAll('.answer')]
                 .map(one => one.getBoundingClientRect().bottom))"""
        )
        height: int = page.evaluate("document.documentElement.scrollHeight")
        if last > PHONE["height"]:
            below[name] = last
        if height > SCREENS.get(name, OTHERS) * PHONE["height"]:
            long[name] = height / PHONE["height"]
    assert below == {}
    assert long == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_flag_is_one_line_and_opens_what_can_be_done_about_it(visit: Visit, scheme: str) -> None:
    page = visit("/", viewport=PHONE, color_scheme=scheme)
    page.get_by_role("link", name="Henrietta Osei-Bianchi").click()
    flag = page.locator(".red-flags .flag").first
    button = flag.get_by_role("link", name="Hand over")
    assert not button.is_visible()
    assert page.locator(".flags-head").get_by_role("link", name="Hand over").is_visible()
    flag.locator("summary").click()
    assert button.is_visible()
    assert flag.get_by_role("link", name="Answer").is_visible()
    assert flag.get_by_text("Ends with").is_visible()
    assert flag.get_by_text("Constants").is_visible()


def rows(page: Page) -> list[list[str]]:
    """What can be entered, row by row; every row is as wide as the page."""
    tiles: list[tuple[str, float, float]] = page.evaluate(
        """() => [...document.querySelectorAll('.record-bar > ul > li')].map(one => {
             const at = one.getBoundingClientRect();
             return [one.innerText.trim(), at.top, at.right];
           })"""
    )
    tops = sorted({top for _, top, _ in tiles})
    ends = {max(right for _, y, right in tiles if y == top) for top in tops}
    assert len({round(end) for end in ends}) == 1
    return [[name for name, y, _ in tiles if y == top] for top in tops]


def test_entering_is_two_wide_and_then_three_a_row_here_and_in_a_contact(
    visit: Visit, address: str
) -> None:
    page = visit("/", viewport=PHONE)
    path = open_family_unseen(page, address, "Rows Testcase")
    page.goto(f"{address}{path}")
    assert rows(page) == [
        ["Something looks wrong", "Start a contact"],
        ["Weight", "Test weight", "Temperature"],
        ["Note", "Watch a feed", "Plan"],
        ["Letter and other papers"],
    ]
    page.goto(f"{address}{path}contact/")
    page.get_by_role("button", name="Home", exact=True).click()
    page.get_by_role("heading", name="End the contact").wait_for()
    assert rows(page) == [
        ["Something looks wrong", "Watch a feed"],
        ["Weight", "Test weight", "Temperature"],
        ["Feeds in 24 h", "Diapers in 24 h", "Note"],
    ]


def test_a_line_of_the_time_line_opens_its_correction(visit: Visit) -> None:
    page = visit("/", viewport=PHONE)
    page.get_by_role("link", name="Henrietta Osei-Bianchi").click()
    page.get_by_text("entries, the latest first").click()
    line = page.locator(".lines > li").first
    assert not line.get_by_role("link", name="Correct").is_visible()
    line.locator("summary").click()
    assert line.get_by_role("link", name="Correct").is_visible()
    assert line.get_by_role("link", name="Withdraw").is_visible()
