"""Other languages in a real browser: longer words and lines that run from right to left."""

from __future__ import annotations

from playwright.sync_api import Page

from browser.conftest import PHONE, Visit
from browser.test_every_page import NARROW, TABLE, every_path, faults_of, overflow

TURNED = "document.documentElement.dir = 'rtl'"


def use_language(page: Page, address: str, language: str) -> None:
    page.goto(f"{address}/policy/")
    page.locator(f"input[name=language][value={language}]").check()
    with page.expect_navigation():  # a tab closed while the page is on its way may never close
        page.locator("main form button[type=submit]").click()


def beyond_the_edge(page: Page) -> list[str]:
    """What lies outside the window on either side, is seen, and is in no box that scrolls by itself.

    What is only heard is cut down to nothing by a clip of its own or of what holds it.
    """
    found: list[str] = page.evaluate(
        """() => { const heard = e => e && (getComputedStyle(e).clipPath === 'inset(50%)'
                                            || heard(e.parentElement));
           return [...document.querySelectorAll('main *, header *, footer *')]
           .filter(e => e.checkVisibility() && !e.closest('.scroll, svg, .skip') && !heard(e))
           .filter(e => { const r = e.getBoundingClientRect();
                          return r.width > 0 && (r.right > innerWidth + 1 || r.left < -1) })
           .map(e => e.outerHTML.slice(0, 90)) }"""
    )
    return found


def test_what_leaves_the_window_on_either_side_is_seen(visit: Visit) -> None:
    page = visit("/bench/", viewport=NARROW)
    for direction in ("ltr", "rtl"):
        page.evaluate(f"document.documentElement.dir = '{direction}'")
        assert beyond_the_edge(page) == []
        page.evaluate(
            """() => { const wide = document.createElement('p'); wide.id = 'wide';
                       wide.style.inlineSize = '400px'; wide.textContent = 'wide';
                       document.querySelector('main').append(wide) }"""
        )
        assert any("wide" in one for one in beyond_the_edge(page))
        page.evaluate("document.querySelector('#wide').remove()")


def test_no_page_is_too_wide_from_right_to_left_at_320_px(
    visit: Visit, family: str, address: str
) -> None:
    page = visit("/", viewport=NARROW)
    faults = {}
    for path in every_path(family):
        if path == "/nowhere/":
            continue
        page.goto(f"{address}{path}")
        page.evaluate(TURNED)
        found = beyond_the_edge(page)
        if overflow(page) > 0 or found:
            faults[path] = [f"{overflow(page)} px too wide", *found]
    assert faults == {}


def test_from_right_to_left_the_page_begins_at_the_right_and_quantities_keep_their_direction(
    visit: Visit, family: str
) -> None:
    page = visit(family, viewport=PHONE)
    page.evaluate(TURNED)
    box = page.locator("h1").first.bounding_box()
    start = page.evaluate(
        """() => { const r = document.createRange(); r.selectNodeContents(
                     document.querySelector('h1')); return r.getBoundingClientRect().right }"""
    )
    assert box
    assert abs(start - (box["x"] + box["width"])) < 2
    directions = page.evaluate(
        "() => [...document.querySelectorAll('bdi')].map(e => getComputedStyle(e).unicodeBidi)"
    )
    assert directions
    assert set(directions) == {"isolate"}


def test_no_page_is_too_wide_in_spanish_at_320_px(visit: Visit, family: str, address: str) -> None:
    page = visit("/", viewport=NARROW)
    use_language(page, address, "es")
    faults = {}
    try:
        for path in every_path(family):
            if path == "/nowhere/":
                continue
            page.goto(f"{address}{path}")
            found = beyond_the_edge(page)
            if page.locator("html").get_attribute("lang") != "es":
                found.append("not in Spanish")
            if overflow(page) > 0 or found:
                faults[path] = [f"{overflow(page)} px too wide", *found]
        page.goto(f"{address}/")
        faults["the list"] = faults_of(page)
        page.goto(f"{address}/import/")
        file = {"name": "sala.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
        page.set_input_files("#id_file", file)  # type: ignore[arg-type]
        page.locator("main form button[type=submit]").click()
        page.locator(".read-as").wait_for()
        assert page.locator("html").get_attribute("lang") == "es"
        faults["the question about a table"] = faults_of(page)
    finally:
        use_language(page, address, "en")
    faults = {path: found for path, found in faults.items() if found}
    assert faults == {}
