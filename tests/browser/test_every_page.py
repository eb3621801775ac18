"""Every page as people meet it: narrow, dark, without scripts, and under an accessibility checker."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page

from browser.checker import CONTRAST, violations
from browser.conftest import LAPTOP, PHONE, Visit

NARROW = {"width": 320, "height": 700}
WITHOUT_THE_FOLDED = """() => document.querySelectorAll('details:not([open]) > :not(summary)')
  .forEach((one) => one.remove())"""


def every_path(family: str) -> list[str]:
    kinds = ("weight", "day", "feed", "stool", "birth", "contact", "note")
    return [
        "/",
        family,
        *(f"{family}enter/{kind}/" for kind in kinds),
        f"{family}entries/",
        f"{family}contact/",
        f"{family}papers/",
        f"{family}seen/",
        f"{family}milk/",
        "/families/new/",
        "/shortcuts/",
        "/bench/",
        "/library/",
        "/library/class/",
        "/policy/",
        "/users/",
        "/trail/",
        "/trail/?act=read",
        "/account/passphrase/",
        "/account/",
        "/set-up/",
        "/help/",
        "/import/",
        "/nowhere/",
    ]


def overflow(page: Page) -> int:
    """How many px a page is wider than its window."""
    wide: int = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    return wide


def small_targets(page: Page) -> list[str]:
    """What can be pressed and is lower than 44 px; links within a line of text are exempt."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll(
             'main button, main .button, main select, main .choice, nav a, summary, ' +
             'main input:not([type=hidden]):not([type=radio]):not([type=checkbox])')]
           .filter(e => e.offsetParent !== null && e.getBoundingClientRect().height < 43.5)
           .map(e => e.outerHTML.slice(0, 90))"""
    )
    return found


@pytest.mark.parametrize(
    ("scheme", "size"),
    [("light", NARROW), ("dark", {"width": 1366, "height": 900})],
    ids=["320 px, light", "laptop, dark"],
)
def test_page_has_no_fault_that_the_checker_finds_and_never_scrolls_sideways(
    visit: Visit, family: str, address: str, scheme: str, size: dict[str, int]
) -> None:
    page = visit("/", viewport=size, color_scheme=scheme)
    faults = {}
    for path in every_path(family):
        if path == "/nowhere/":
            continue
        page.goto(f"{address}{path}")
        if path == "/library/":
            # What is folded nobody sees, nor does the checker, which takes its time over 20 000 elements.
            page.evaluate(WITHOUT_THE_FOLDED)
        found = faults_of(page)
        found += [f"too low: {one}" for one in small_targets(page)]
        if found:
            faults[path.replace(family, "FAMILY/")] = found
    assert faults == {}


def test_what_opens_on_a_page_is_no_wider_than_a_narrow_screen(
    visit: Visit, family: str, address: str
) -> None:
    page = visit("/", viewport=NARROW)
    too_wide = {}
    for path in (family, "/bench/", "/library/", "/policy/"):
        page.goto(f"{address}{path}")
        opened = page.evaluate(
            "() => [...document.querySelectorAll('details')].map(e => e.open = true).length"
        )
        assert opened or path == "/bench/"
        if overflow(page) > 0:
            too_wide[path.replace(family, "FAMILY/")] = overflow(page)
    assert too_wide == {}


def test_text_of_each_theme_reaches_seven_to_one_on_the_page(visit: Visit, family: str) -> None:
    """The checker's enhanced rule, on the page with the most kinds of text."""
    for scheme in ("light", "dark"):
        page = visit(family, color_scheme=scheme)
        assert violations(page, "color-contrast-enhanced") == []


def test_every_page_works_without_scripts(chromium: Browser, address: str, family: str) -> None:
    context = chromium.new_context(java_script_enabled=False, viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{address}/sign-in/")
    page.get_by_label("Name").fill("consultant")
    page.get_by_label("Passphrase").fill("four quiet words here")
    page.get_by_role("button", name="Sign in", exact=True).click()
    for path in every_path(family):
        page.goto(f"{address}{path}")
        assert page.locator("h1").count() == 1
    page.goto(f"{address}{family}")
    drawing = page.locator(".chart svg:visible").first
    drawing.scroll_into_view_if_needed()
    assert drawing.bounding_box() is not None
    page.goto(f"{address}{family}enter/temperature/")
    page.locator("input[name=infant]").first.check()
    page.get_by_label("Temperature", exact=True).fill("36.9")
    page.get_by_role("button", name="Save", exact=True).click()
    assert "Saved: Temperature" in page.content()
    context.close()


TABLE = """infant,sex,birth date,birth time,date,time,weight g
1,female,2026-11-01,06:00,2026-11-04,09:00,3010
1,female,2026-11-01,06:00,2026-11-08,09:00,heavy
"""


def faults_of(page: Page, *rules: str) -> list[str]:
    """What breaks these rules, or all; and how much wider than its window the page is."""
    wide = [f"{overflow(page)} px too wide"] if overflow(page) > 0 else []
    return violations(page, *rules) + wide


def test_page_after_it_was_sent_has_no_fault_either(
    visit: Visit, family: str, address: str
) -> None:
    """Problems at fields, questions, an answered Bench, a previewed table: at phone width."""
    page = visit(f"{family}enter/temperature/", viewport=PHONE)
    page.get_by_label("Temperature", exact=True).fill("98.6")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("Please confirm").first.wait_for()
    assert faults_of(page) == []
    page.get_by_label("Temperature", exact=True).fill("warm")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("READ-001").first.wait_for()
    assert faults_of(page) == []

    page.goto(f"{address}/bench/")
    page.get_by_label("Born at").fill("2026-11-01T06:00")
    page.locator("#id_birth_weight").fill("3300")
    page.locator("#id_weight_1").fill("3100")
    page.locator("#id_weighed_1").fill("2026-11-05T06:00")
    page.get_by_role("button", name="Calculate").click()
    page.locator("#answer").wait_for()
    assert faults_of(page) == []

    page.goto(f"{address}/import/")
    file = {"name": "ward.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    page.set_input_files("#id_file", file)  # type: ignore[arg-type]
    page.get_by_role("button", name="Look at the file").click()
    page.get_by_text("What the columns mean").wait_for()
    assert faults_of(page) == []
    page.get_by_role("button", name="Import", exact=True).click()
    page.get_by_text("Nothing was imported").wait_for()
    assert faults_of(page) == []


@pytest.mark.parametrize(
    "name", ["Marguerite Okoro-Santos", "Noor Haverkamp", "Adaeze Lindqvist", "Fionnuala Tanaka"]
)
@pytest.mark.parametrize(("scheme", "size"), [("light", NARROW), ("dark", LAPTOP)])
def test_a_familys_page_has_no_fault_with_everything_opened(
    visit: Visit, name: str, scheme: str, size: dict[str, int]
) -> None:
    """Twins with milk given and a doubted weight, a refused infant, one unweighed, a wrong weight."""
    page = visit("/?discharged=1&whole=1", viewport=size, color_scheme=scheme)
    page.get_by_role("link", name=name).click()
    page.locator(".answer").first.wait_for()
    page.evaluate("document.querySelectorAll('main details').forEach((one) => (one.open = true))")
    assert faults_of(page) == []


def test_a_block_and_its_working_open_by_keyboard(visit: Visit) -> None:
    page = visit("/")
    page.get_by_role("link", name="Marguerite Okoro-Santos").click()
    block = page.locator("details.block", has_text="Share of the requirement").first
    asked = block.locator(".workings > li", has_text="Need a day")
    interval = asked.get_by_text("95\u00a0% interval").first
    for summary in (
        block.locator("summary").first,
        block.locator(".working > summary"),
        block.locator(".workings summary", has_text="Need a day"),
    ):
        assert not interval.is_visible()
        summary.focus()
        page.keyboard.press("Enter")
    assert interval.is_visible()
    page.keyboard.press("Enter")
    assert not interval.is_visible()


def test_correction_and_withdrawal_have_no_fault(visit: Visit, family: str, address: str) -> None:
    page = visit(family, viewport=PHONE)
    links = [
        page.locator(f"a[href$='/{what}/']").first.get_attribute("href")
        for what in ("correct", "withdraw")
    ]
    for link in links:
        page.goto(f"{address}{link}")
        assert faults_of(page) == []


@pytest.mark.parametrize("which", ["first", "last", "one that is set in another way"])
def test_the_checker_sees_a_pale_text_among_many_that_look_alike(visit: Visit, which: str) -> None:
    """Of texts that look alike it asks the contrast of two: what makes one pale makes it another look."""
    page = visit("/")
    assert violations(page, CONTRAST) == []
    pale = {
        "first": ".caseload .why >> nth=0",
        "last": ".caseload .why >> nth=-1",
        "one that is set in another way": ".caseload .why >> nth=7",
    }[which]
    page.locator(pale).evaluate("one => one.style.setProperty('color', 'Canvas')")
    assert [one.partition(":")[0] for one in violations(page, CONTRAST)] == [CONTRAST]
