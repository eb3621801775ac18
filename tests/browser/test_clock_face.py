"""Breast and nipple drawn on a phone: by touch, by keys, without a network and without scripts."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from browser.checker import CONTRAST
from browser.conftest import PHONE, Visit, entries_of
from browser.hand import open_family_unseen
from browser.test_contact import wait_for_kept
from browser.test_every_page import NARROW, faults_of, overflow


@pytest.fixture
def phone(device: BrowserContext, address: str, paths: list[str]) -> Page:
    """The breast part of a contact of this file's own family, its drawings open."""
    page = device.new_page()
    if not paths:
        paths.append(open_family_unseen(page, address, "Clarisse Testcase"))
        page.goto(f"{address}{paths[0]}")
        page.get_by_role("link", name="Start a contact").click()
        page.get_by_role("button", name="Home", exact=True).click()
        expect(page.get_by_role("link", name="Latch")).to_be_visible()
    return opened(page, f"{address}{paths[0]}contact/breast/")


def opened(page: Page, address: str) -> Page:
    page.goto(address)
    page.evaluate("document.querySelector('details.drawn').open = true")
    return page


def drawing(page: Page, side: str) -> Locator:
    return page.locator(f"[data-map][data-side={side}]")


def field(page: Page, side: str, key: str) -> Locator:
    return drawing(page, side).locator(f".field[data-key={key}]")


def test_taps_on_fields_are_one_answer_and_said_in_words(phone: Page, paths: list[str]) -> None:
    before = entries_of(phone, paths[0])
    for key in ("o9", "o10", "i10", "i10"):
        field(phone, "right", key).click()
    expect(field(phone, "right", "o9")).to_have_attribute("aria-checked", "true")
    expect(field(phone, "right", "i10")).to_have_attribute("aria-checked", "false")
    wait_for_kept(phone, 0)
    expect(drawing(phone, "right")).to_contain_text("9 to 10 o'clock, outer ring")
    expect(drawing(phone, "left")).not_to_contain_text("9 to 10 o'clock")
    opened(phone, phone.url)
    assert drawing(phone, "right").locator("[data-now]").count() == 2
    # Four answers, and the one sign that they say.
    assert entries_of(phone, paths[0]) == before + 5


def test_arrows_go_round_the_clock_and_from_ring_to_ring(phone: Page) -> None:
    field(phone, "left", "nipple").focus()
    for key in ("ArrowRight", "ArrowUp", "ArrowRight", "Space"):
        phone.keyboard.press(key)
    chosen = field(phone, "left", "o2")
    expect(chosen).to_be_focused()
    expect(chosen).to_have_attribute("aria-checked", "true")
    expect(chosen).to_have_attribute("aria-label", "2 o'clock, outer ring")
    phone.keyboard.press("Enter")
    expect(chosen).to_have_attribute("aria-checked", "false")
    wait_for_kept(phone, 0)


def test_a_tap_places_a_lump_and_its_form_holds_hour_and_distance(phone: Page) -> None:
    phone.locator("[data-marks]").get_by_label("the lump").check()
    svg = drawing(phone, "left").locator("svg")
    box = svg.bounding_box()
    assert box is not None
    unit = box["width"] / 252
    middle = box["width"] / 2
    svg.click(position={"x": middle + 40 * unit, "y": middle})
    hour = phone.locator("#given-lump_clockleft")
    distance = phone.locator("#given-lump_from_nipple_cmleft")
    expect(hour).to_have_value("3")
    expect(distance).to_have_value("4")
    ring = drawing(phone, "left").locator("[data-lump]")
    wait_for_kept(phone, 0)
    opened(phone, phone.url)
    expect(hour).to_have_value("3")
    expect(ring).to_have_attribute("cx", "40")
    assert drawing(phone, "left").locator("[data-now]").count() == 0


def test_without_a_network_a_drawing_waits_and_comes_back(phone: Page) -> None:
    phone.goto(phone.url.replace("/breast/", "/nipple/"))
    opened(phone, phone.url)
    phone.context.set_offline(True)
    field(phone, "right", "h2").click()
    field(phone, "right", "tip").click()
    expect(field(phone, "right", "h2")).to_have_attribute("data-now", "")
    expect(phone.locator("[data-sending]")).to_be_visible()
    wait_for_kept(phone, 2)
    phone.context.set_offline(False)
    wait_for_kept(phone, 0)
    # In a tab of its own: the page may load itself again when all is sent, and another load would be given up for it.
    again = opened(phone.context.new_page(), phone.url)
    expect(drawing(again, "right")).to_contain_text("2 o'clock, side of the nipple and tip")


def test_without_scripts_a_list_says_the_same(
    chromium: Browser, signed_in: dict[str, object], address: str, paths: list[str], phone: Page
) -> None:
    del phone
    context = chromium.new_context(
        java_script_enabled=False,
        viewport=PHONE,  # type: ignore[arg-type]
        storage_state=signed_in,  # type: ignore[arg-type]
    )
    page = context.new_page()
    page.goto(f"{address}{paths[0]}contact/nipple/")
    svg = drawing(page, "left").locator("svg")
    expect(svg).to_have_attribute("role", "img")
    if page.locator("details.drawn").get_attribute("open") is None:
        page.locator("details.drawn > summary").click()
    page.locator("#harm_clock").locator("xpath=..").locator("summary").click()
    form = page.locator("#harm_clock form").nth(1)
    form.get_by_label("5 o'clock").check()
    form.get_by_role("button", name="Save").click()
    expect(drawing(page, "left").locator("[data-now]")).to_have_attribute("data-key", "h5")
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_open_drawings_keep_the_rules(
    visit: Visit, paths: list[str], phone: Page, scheme: str
) -> None:
    del phone
    page = visit("/", viewport=NARROW, color_scheme=scheme)
    found = {}
    for part in ("breast", "nipple"):
        page.goto(f"{page.url.split('/families/')[0].rstrip('/')}{paths[0]}contact/{part}/")
        page.evaluate("document.querySelectorAll('details').forEach(one => (one.open = true))")
        if faults := faults_of(page, *([CONTRAST] if scheme == "dark" else [])):
            found[part] = faults
    assert found == {}


def test_the_points_of_a_latch_are_shown_when_asked_for(
    visit: Visit, paths: list[str], phone: Page
) -> None:
    del phone
    page = visit("/", viewport=PHONE)
    page.goto(f"{page.url.rstrip('/')}{paths[0]}contact/latch/")
    shown = page.locator("#gape .looks svg")
    expect(shown.first).to_be_hidden()
    control = page.locator("#gape .looks summary")
    box = control.bounding_box()
    assert box is not None
    assert box["height"] >= 44
    control.click()
    expect(shown).to_have_count(3)
    drawn = shown.first.bounding_box()
    assert drawn is not None
    assert drawn["width"] >= 110
    # The symbol is there: one that is not has no size.
    assert shown.first.evaluate("one => one.getBBox().width") > 50
    page.set_viewport_size(NARROW)  # type: ignore[arg-type]
    assert overflow(page) <= 0
    assert faults_of(page) == []
