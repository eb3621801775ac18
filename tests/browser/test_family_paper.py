"""A family on paper: one page of A4 and Letter that says the verdict and every open flag, and no buttons."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import LAPTOP, PHONE, Visit
from browser.test_every_page import NARROW, faults_of, overflow
from browser.test_family_page import families

PAPERS = ("A4", "Letter")
TWINS = {"Marguerite Okoro-Santos", "Esperanza Holloway"}
OTHERS = "Testcase"
"""The families of the other tests hold whatever those entered."""
SHEET = re.compile(rb"/Type\s*/Page\b")
"""A page of a PDF; the list of all pages is called Pages."""


def sheets(page: Page, paper: str) -> int:
    """How many sheets the browser prints a page on."""
    return len(SHEET.findall(page.pdf(format=paper)))


DAY = r"(at )?(today|tomorrow|yesterday|(Mon|Tue|Wed|Thu|Fri|Sat|Sun)( \d+ \w{3},)?) (?=\d\d:\d\d)"


def without_days(lines: list[str]) -> list[str]:
    """Lines with the time of day alone: a page says 'today', paper is read later and names the day."""
    return [re.sub(DAY, "", line) for line in lines]


def texts(page: Page, selector: str) -> list[str]:
    """The text of what matches and is laid out, spaces made one."""
    found: list[str] = page.evaluate(
        """(selector) => [...document.querySelectorAll(selector)]
             .filter(one => one.checkVisibility()).map(one => one.textContent)""",
        selector,
    )
    return [" ".join(one.split()) for one in found]


def wrong_on_paper(page: Page) -> list[str]:
    """What the paper of a family's page does not say as the page does, or says beside it."""
    page.emulate_media(media="screen")
    verdicts = texts(page, ".answer .verdict")
    acts = texts(page, ".answer .act-now strong")
    # What nobody knows shares one line of the page, which opens; paper says each.
    # No paper repeats a private matter.
    lines = page.locator("main ul.findings details.flag:not(:has(ul.findings))").filter(
        has_not_text="Private matter"
    )
    flags = lines.and_(page.locator("main > ul.findings *, main > .red-flags *")).count()
    shown = texts(page, ".paper")
    page.emulate_media(media="print")
    printed = without_days(texts(page, ".paper-infant .paper-act strong"))
    is_right = {
        "a verdict": bool(verdicts),
        "no paper on the screen": shown == [],
        "the verdicts": texts(page, ".paper-verdict") == verdicts,
        "the acts": printed == without_days(acts),
        "each flag": len(texts(page, ".paper-flags li")) == flags,
        "no buttons": texts(page, "button, a, nav, summary, input, select, .foot, .answer") == [],
    }
    return [what for what, is_so in is_right.items() if not is_so]


def test_every_family_prints_on_one_page_with_verdict_and_open_flags_and_no_buttons(
    visit: Visit, address: str
) -> None:
    page = visit("/?discharged=1&whole=1")
    listed = {name: path for name, path in families(page).items() if not name.endswith(OTHERS)}
    assert set(listed) > TWINS
    more, wrong = {}, {}
    for name, path in listed.items():
        page.goto(f"{address}{path}")
        count = [sheets(page, paper) for paper in PAPERS]
        if min(count) < 1 or max(count) > (2 if name in TWINS else 1):
            more[name] = count
        if missing := wrong_on_paper(page):
            wrong[name] = missing
    assert more == {}
    assert wrong == {}


def test_flag_on_paper_says_who_has_taken_it(visit: Visit) -> None:
    page = visit("/")
    page.get_by_role("link", name="Wilhelmina Adebayo-Roux").click()
    taken = [" ".join(one.split()) for one in page.locator(".flag .taken").all_text_contents()]
    assert taken
    page.emulate_media(media="print")
    on_paper = texts(page, ".paper-taken")
    assert without_days(on_paper) == without_days(taken)
    assert not re.search("today|tomorrow|yesterday", " ".join(on_paper))


@pytest.mark.parametrize(("scheme", "size"), [("light", NARROW), ("dark", LAPTOP)])
def test_paper_is_shown_before_it_is_printed(
    visit: Visit, family: str, scheme: str, size: dict[str, int]
) -> None:
    page = visit(family, viewport=size, color_scheme=scheme)
    page.get_by_text("Print, export, or ask as of an earlier time").click()
    page.get_by_role("link", name="Print", exact=True).click()
    expect(page.locator(".paper-verdict").first).to_be_visible()
    assert overflow(page) <= 0
    assert faults_of(page) == []
    assert sheets(page, "A4") == 1
    page.get_by_role("link", name="Back").click()
    expect(page.locator(".answer").first).to_be_visible()


def test_paper_of_an_earlier_time_says_so(visit: Visit, family: str) -> None:
    page = visit(f"{family}?as_of=2026-01-01T10:00", viewport=PHONE)
    page.get_by_text("Print, export, or ask as of an earlier time").click()
    page.get_by_role("link", name="Print", exact=True).click()
    expect(page.locator(".paper header")).to_contain_text("an earlier time")
    expect(page.locator(".paper header")).to_contain_text("1 Jan 2026, 10:00")
