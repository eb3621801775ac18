"""Every page as people meet it: narrow, dark, without scripts, and under an accessibility checker."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from browser.conftest import PHONE, Visit

NARROW = {"width": 320, "height": 700}


def every_path(family: str) -> list[str]:
    kinds = ("weight", "feed", "stool", "birth", "contact", "note")
    return [
        "/",
        family,
        *(f"{family}enter/{kind}/" for kind in kinds),
        f"{family}entries/",
        "/families/new/",
        "/bench/",
        "/library/",
        "/policy/",
        "/users/",
        "/password/",
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
             'main button, main .button, main select, main .choice, nav a, nav summary, ' +
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
    axe = Axe()
    faults = {}
    for path in every_path(family):
        if path == "/nowhere/":
            continue
        page.goto(f"{address}{path}")
        options = {
            "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
        }
        result = axe.run(page, options=options)
        found = [
            f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in result.response["violations"]
        ]
        if overflow(page) > 0:
            found.append(f"{overflow(page)} px too wide")
        found += [f"too low: {one}" for one in small_targets(page)]
        if found:
            faults[path.replace(family, "FAMILY/")] = found
    assert faults == {}


def test_text_of_each_theme_reaches_seven_to_one_on_the_page(visit: Visit, family: str) -> None:
    """The checker's enhanced rule, on the page with the most kinds of text."""
    for scheme in ("light", "dark"):
        page = visit(family, color_scheme=scheme)
        result = Axe().run(page, options={"runOnly": ["color-contrast-enhanced"]})
        assert [one["nodes"][0]["html"] for one in result.response["violations"]] == []


def test_every_page_works_without_scripts(chromium: Browser, address: str, family: str) -> None:
    context = chromium.new_context(java_script_enabled=False, viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{address}/sign-in/")
    page.get_by_label("Name").fill("consultant")
    page.get_by_label("Password").fill("four quiet words here")
    page.get_by_role("button", name="Sign in").click()
    for path in every_path(family):
        page.goto(f"{address}{path}")
        assert page.locator("h1").count() == 1
    page.goto(f"{address}{family}")
    image = page.locator(".chart img").first
    image.scroll_into_view_if_needed()
    assert image.bounding_box() is not None
    page.goto(f"{address}{family}enter/temperature/")
    page.get_by_label("Temperature", exact=True).fill("36.9")
    page.get_by_role("button", name="Save", exact=True).click()
    assert "Saved: Temperature" in page.content()
    context.close()
