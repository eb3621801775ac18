"""Forms over a page: no fault for the checker in any theme or direction, by keyboard, without scripts."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.conftest import (
    LAPTOP,
    PHONE,
    Visit,
    entries_of,
)
from browser.sessions import PASSPHRASE
from browser.test_daily_paths import press_tab_until
from browser.test_every_page import NARROW, faults_of, overflow, small_targets
from browser.test_languages import TURNED, beyond_the_edge, use_language

LOW = """() => [...document.querySelectorAll('dialog button, dialog .button, dialog summary, dialog .choice,'
  + ' dialog input:not([type=hidden], [type=radio], [type=checkbox]), .messages .button, .unsent .button')]
  .filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 43.5)
  .map(e => e.outerHTML.slice(0, 90))"""


def open_sheet(page: Page, name: str) -> None:
    page.locator("main").get_by_role("link", name=name, exact=True).first.click()
    expect(page.locator("dialog[open] form")).to_be_visible()


@pytest.mark.parametrize(("scheme", "size"), [("light", NARROW), ("dark", LAPTOP)])
def test_form_over_the_page_and_what_it_says_have_no_fault(
    visit: Visit, family: str, scheme: str, size: dict[str, int]
) -> None:
    page = visit(family, viewport=size, color_scheme=scheme)
    found = []
    for name in ("Weight", "Test weight", "Temperature", "Note"):
        open_sheet(page, name)
        page.evaluate(
            "document.querySelectorAll('dialog details').forEach((one) => (one.open = true))"
        )
        found += [f"{name}: {one}" for one in (*faults_of(page), *page.evaluate(LOW))]
        page.keyboard.press("Escape")
        expect(page.locator("dialog")).to_have_count(0)
    page.locator(".quick").get_by_role("button", name="Wet").first.click()
    expect(page.locator(".messages")).to_contain_text("Saved")
    found += [*faults_of(page), *page.evaluate(LOW), *small_targets(page)]
    page.locator(".messages").get_by_role("button", name="Undo").click()
    expect(page.locator(".messages")).to_contain_text("Undone")
    open_sheet(page, "Note")
    page.locator("dialog textarea").fill("half typed")
    page.reload()
    page.locator(".unsent").wait_for()
    found += [*faults_of(page), *page.evaluate(LOW)]
    page.get_by_role("link", name="Cancel").click()
    assert found == []


def test_form_over_the_page_by_keyboard(visit: Visit, family: str) -> None:
    page = visit(family)
    before = entries_of(page, family)
    press_tab_until(page, "Note")
    page.keyboard.press("Enter")
    expect(page.locator("dialog textarea")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator("dialog")).to_have_count(0)
    assert page.evaluate("document.activeElement.innerText") == "Note"
    page.keyboard.press("Enter")
    expect(page.locator("dialog textarea")).to_be_focused()
    page.keyboard.type("By keyboard alone.")
    press_tab_until(page, "Save")
    page.keyboard.press("Enter")
    expect(page.locator(".messages")).to_contain_text("Saved: Note")
    assert entries_of(page, family) == before + 1


def test_wrong_value_leads_to_its_field_and_the_form_stays_open(visit: Visit, family: str) -> None:
    page = visit(family, viewport=PHONE)
    open_sheet(page, "Temperature")
    page.locator("dialog input[name=infant]").first.check()
    page.locator("#id_temperature").fill("warm")
    page.keyboard.press("Enter")
    summary = page.locator("dialog #what-is-wrong")
    expect(summary).to_be_focused()
    assert faults_of(page) == []
    summary.get_by_role("link").click()
    expect(page.locator("dialog #id_temperature")).to_be_focused()
    expect(page.locator("dialog #id_temperature")).to_have_value("warm")
    expect(page.locator("dialog[open]")).to_be_visible()
    page.get_by_role("link", name="Cancel").click()
    expect(page.locator("dialog")).to_have_count(0)


@pytest.mark.parametrize("language", ["en", "es"])
def test_form_over_the_page_fits_in_every_direction(
    visit: Visit, family: str, address: str, language: str
) -> None:
    page = visit("/", viewport=NARROW)
    use_language(page, address, language)
    try:
        page.goto(f"{address}{family}")
        if language == "en":
            page.evaluate(TURNED)
        page.locator("main a[href$='/enter/weight/']").first.click()
        page.locator("dialog[open] form").wait_for()
        assert overflow(page) <= 0
        assert beyond_the_edge(page) == []
        wide = page.evaluate(
            "(d => d.scrollWidth - d.clientWidth)(document.querySelector('dialog'))"
        )
        assert wide <= 0
    finally:
        use_language(page, address, "en")


def test_time_is_now_until_it_is_changed(visit: Visit, family: str) -> None:
    page = visit("/", viewport=PHONE)
    page.clock.install()
    page.goto(page.url.rstrip("/") + f"{family}enter/note/")
    field = page.locator("#id_when")
    first = field.input_value()
    page.clock.fast_forward("11:00")
    expect(field).not_to_have_value(first)
    expect(page.locator("[data-now] bdi")).to_have_text(field.input_value()[11:16])
    page.locator("[data-moment] summary").click()
    field.fill("2026-11-01T10:00")
    field.press("Tab")
    page.clock.fast_forward("11:00")
    expect(field).to_have_value("01/11/2026 10:00")
    expect(page.locator("[data-now]")).to_have_text("Sun 1 Nov 2026, 10:00")
    expect(page.locator("input[name=when-now]")).to_have_count(0)


def test_without_scripts_a_diaper_is_one_press_and_twins_are_added(
    chromium: Browser, address: str, family: str
) -> None:
    context = chromium.new_context(java_script_enabled=False, viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{address}/sign-in/")
    page.get_by_label("Name").fill("consultant")
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.goto(f"{address}{family}")
    before = entries_of(page, family)
    page.locator(".quick").get_by_role("button", name="Stool").first.click()
    expect(page.locator(".messages")).to_contain_text("Saved: stool of")
    assert entries_of(page, family) == before + 1
    page.locator(".messages").get_by_role("button", name="Undo").click()
    expect(page.locator(".messages")).to_contain_text("Undone")
    page.goto(f"{address}/families/new/")
    page.locator("#id_infant-1-gestation").fill("37+0")
    page.get_by_role("button", name="Another infant").click()
    expect(page.locator("#id_infant-2-gestation")).to_have_value("37+0")
    expect(page.locator("#what-is-wrong")).to_have_count(0)
    context.close()
