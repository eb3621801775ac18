"""The paths of a day, by keyboard alone, and what a double click and a printer make of them."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

from playwright.sync_api import Page, Route, expect

from browser.conftest import PHONE, Visit, entries_of
from patience import until


def press_tab_until(page: Page, words: str, *, in_part: bool = False) -> None:
    """Press Tab until the focus stands on what bears these words, alone or among others."""
    for _step in range(120):
        page.keyboard.press("Tab")
        seen = page.evaluate(
            """() => { const e = document.activeElement;
                 return (e.innerText || e.getAttribute('aria-label') || '') + ' ' +
                        [...(e.labels || [])].map(l => l.innerText).join(' '); }"""
        )
        if words == seen.strip() or (in_part and words in seen):
            return
    raise AssertionError(f"the keyboard never reached {words!r}")


def test_skip_link_is_the_first_stop_and_leads_to_the_content(visit: Visit) -> None:
    page = visit("/")
    page.keyboard.press("Tab")
    skip = page.locator(".skip")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


def test_focus_can_always_be_seen(visit: Visit, family: str) -> None:
    page = visit(family)
    for _step in range(25):
        page.keyboard.press("Tab")
        outline = page.evaluate(
            """() => { const e = document.activeElement;
                 const own = getComputedStyle(e), around = getComputedStyle(e.closest('.choice') || e);
                 return Math.max(parseFloat(own.outlineWidth), parseFloat(around.outlineWidth)); }"""
        )
        assert outline >= 2


def test_weight_is_entered_by_keyboard_from_the_caseload(visit: Visit, family: str) -> None:
    page = visit("/")
    before = entries_of(page, family)
    name = page.locator(".caseload .name a").first.inner_text()
    press_tab_until(page, name)
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/families/"))
    press_tab_until(page, "Temperature")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/enter/temperature/"))
    expect(page.get_by_label("Temperature", exact=True)).to_be_visible()
    while page.evaluate("document.activeElement.name") != "infant":
        page.keyboard.press("Tab")
    page.keyboard.press("Space")  # whose it is: nobody is presumed
    while page.evaluate("document.activeElement.name") != "temperature":
        page.keyboard.press("Tab")
    page.keyboard.type("37.1")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/families/[0-9a-f-]+/$"))
    expect(page.get_by_role("status").first).to_contain_text(
        re.compile(r"Saved: Temperature of .+, 37\.1")
    )
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.innerText") == "Correct"
    assert entries_of(page, family) == before + 1


def test_wrong_value_takes_the_focus_to_what_is_wrong_and_on_to_the_field(
    visit: Visit, family: str
) -> None:
    page = visit(f"{family}enter/temperature/")
    page.locator("input[name=infant]").first.check()
    page.get_by_label("Temperature", exact=True).fill("warm")
    page.keyboard.press("Enter")
    summary = page.locator("#what-is-wrong")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("READ-001")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    field = page.get_by_label("Temperature", exact=True)
    expect(field).to_be_focused()
    assert field.get_attribute("aria-invalid") == "true"
    described = field.get_attribute("aria-describedby") or ""
    assert "id_temperature_error" in described
    assert field.input_value() == "warm"


def test_doubt_is_answered_by_keyboard(visit: Visit, family: str) -> None:
    page = visit(f"{family}enter/temperature/")
    before = entries_of(page, family)
    page.locator("input[name=infant]").first.check()
    page.get_by_label("Temperature", exact=True).fill("98.6")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Please confirm").first).to_be_visible()
    assert entries_of(page, family) == before
    press_tab_until(page, "°F", in_part=True)
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/families/[0-9a-f-]+/$"))
    assert entries_of(page, family) == before + 1


def test_double_click_on_save_stores_once(visit: Visit, family: str) -> None:
    page = visit(f"{family}enter/note/")
    before = entries_of(page, family)
    page.get_by_label("Note", exact=True).fill("Slept well.")
    page.get_by_role("button", name="Save", exact=True).dblclick()
    page.wait_for_url(re.compile(r"/families/[0-9a-f-]+/$"))
    assert entries_of(page, family) == before + 1


def test_menu_opens_and_closes_by_keyboard(visit: Visit) -> None:
    page = visit("/")
    press_tab_until(page, "More")
    page.keyboard.press("Enter")
    expect(page.get_by_role("link", name="Policy")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("link", name="Policy")).to_be_hidden()
    assert "More" in page.evaluate("document.activeElement.innerText")


def test_family_of_twins_is_opened_on_a_phone(visit: Visit) -> None:
    page = visit("/families/new/", viewport=PHONE)
    page.get_by_label("The parent's name on the list").fill("Sidonie Testcase")
    page.get_by_role("button", name="Another infant").click()
    born = f"{datetime.now(UTC) - timedelta(hours=40):%Y-%m-%dT%H:%M}"
    for place in (1, 2):
        page.locator(f"#id_infant-{place}-born").fill(born)
        page.locator(f"#id_infant-{place}-birth_weight").fill("2650")
    page.get_by_role("button", name="Open the family").click()
    expect(page.locator("h1")).to_have_text("Sidonie Testcase")
    expect(page.locator(".answer h2").filter(has_text="Infant")).to_have_count(2)


def test_what_is_typed_while_a_further_infant_is_on_its_way_stays(visit: Visit) -> None:
    page = visit("/families/new/", viewport=PHONE)
    held: list[Route] = []
    page.route("**/families/new/", lambda route: held.append(route))  # noqa: PLW0108  # no builtin
    page.get_by_role("button", name="Another infant").click()
    until(lambda: page.wait_for_timeout(20) or held, bool)
    page.locator("#id_infant-1-name").fill("Ada")
    page.locator("#id_infant-1-birth_weight").fill("2650")
    held.pop().continue_()
    expect(page.locator("#id_infant-2-birth_weight")).to_be_visible()
    expect(page.locator("#id_infant-1-birth_weight")).to_be_focused()
    assert page.locator("#id_infant-1-name").input_value() == "Ada"
    assert page.locator("#id_infant-1-birth_weight").input_value() == "2650"


def test_weight_on_the_chart_can_be_pointed_at_and_read_by_keyboard(
    visit: Visit, family: str
) -> None:
    page = visit(family)
    chart = page.locator(".chart").first
    says = chart.locator(".reading bdi")
    last = says.inner_text()
    point = chart.locator(".drawing:visible .point").first
    point.hover(force=True)
    expect(says).not_to_have_text(last)
    assert says.inner_text() == point.locator("title").evaluate("one => one.textContent")
    on = chart.get_by_role("button", name="The weight after")
    on.focus()
    for _step in range(40):
        if on.get_attribute("aria-disabled") == "true":
            break
        page.keyboard.press("Enter")
    expect(says).to_have_text(last)


def test_without_scripts_the_chart_is_there_and_nothing_that_cannot_work(
    visit: Visit, family: str
) -> None:
    page = visit(family, java_script_enabled=False)
    chart = page.locator(".chart").first
    expect(chart.locator(".drawing:visible")).to_have_count(1)
    expect(chart.locator(".reading")).to_be_hidden()


def test_bench_answers_and_leaves_no_trace_in_the_address(visit: Visit) -> None:
    page = visit("/bench/")
    now = datetime.now(UTC)
    page.get_by_label("Born at").fill(f"{now - timedelta(days=4):%Y-%m-%dT%H:%M}")
    page.locator("#id_birth_weight").fill("3400")
    page.locator("#id_weight_1").fill("3000")
    page.locator("#id_weighed_1").fill(f"{now - timedelta(hours=2):%Y-%m-%dT%H:%M}")
    page.get_by_role("button", name="Calculate").click()
    expect(page.get_by_text("Red flags").first).to_be_visible()
    assert page.url.endswith("/bench/#answer")
    expect(page.locator(".chart .drawing:visible").first).to_be_visible()


def test_print_drops_what_cannot_be_pressed_and_keeps_what_is_known(
    visit: Visit, family: str, tmp_path: Path
) -> None:
    page = visit(family)
    page.emulate_media(media="print")
    expect(page.locator("nav").first).to_be_hidden()
    expect(page.locator(".record-bar")).to_be_hidden()
    expect(page.locator(".paper-verdict").first).to_be_visible()
    expect(page.locator(".paper .drawing:visible").first).to_be_visible()
    expect(page.locator(".reading").first).to_be_hidden()
    expect(page.locator(".on-screen:visible")).to_have_count(0)
    page.pdf(path=tmp_path / "family.pdf", format="A4")
    assert (tmp_path / "family.pdf").stat().st_size > 20_000
