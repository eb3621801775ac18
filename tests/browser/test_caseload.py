"""The list at work: on a phone at the bedside, by keyboard on a laptop, and on paper."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from browser.checker import CONTRAST, ENHANCED, RULES, violations
from browser.conftest import LAPTOP, PHONE, Visit
from browser.test_every_page import overflow, small_targets

NAMES = ".caseload .name a"
FOLD_PX = PHONE["height"]
SLOW_MS = 20_000
"""For a page that is loaded while the machine is busy with other tests."""


def test_four_families_stand_above_the_fold_of_a_phone(visit: Visit) -> None:
    page = visit("/", viewport=PHONE)
    rows = page.locator(".caseload .family")
    for place in range(4):
        box = rows.nth(place).bounding_box()
        assert box
        assert box["y"] + box["height"] <= FOLD_PX
        assert box["height"] <= 150
        for part in (".name a", ".why", ".age", ".level .mark"):
            expect(rows.nth(place).locator(part).first).to_be_visible()
    level = rows.first.locator(".level .mark").bounding_box()
    name = rows.first.locator(".name a").bounding_box()
    assert level
    assert name
    assert abs(level["y"] - name["y"]) < 24  # beside the name: no clamp can hide it


def test_the_head_of_a_phone_is_one_line(visit: Visit) -> None:
    head = visit("/", viewport=PHONE).locator("header.top").bounding_box()
    assert head
    assert head["height"] < 50


def test_a_family_is_found_with_one_tap_and_three_letters(visit: Visit) -> None:
    page = visit("/", viewport=PHONE)
    loads: list[str] = []
    page.on("framenavigated", lambda frame: loads.append(frame.url))
    page.locator("#q").click()
    page.keyboard.type("xim")
    expect(page.locator(NAMES)).to_have_text(["Ximena Thorvald"])
    expect(page.get_by_role("status").first).to_contain_text("1 family")
    assert loads == []
    assert "xim" not in page.url.lower()
    page.locator("#q").fill("")
    expect(page.locator(NAMES).nth(3)).to_be_visible()


@pytest.mark.parametrize("key", ["Enter", "ArrowDown"])
def test_keyboard_goes_from_the_words_to_the_first_family_found(visit: Visit, key: str) -> None:
    page = visit("/")
    page.keyboard.press("/")
    page.keyboard.type("xim")
    page.keyboard.press(key)  # at once: the list still shows every family
    expect(page.locator(NAMES)).to_have_text(["Ximena Thorvald"])
    expect(page.locator(NAMES)).to_be_focused()
    page.locator("#q").fill("otta")
    expect(page.locator(NAMES)).to_have_text(["Ottavia Lindgren"])
    expect(page.locator("#q")).to_be_focused()  # who goes on typing keeps the field
    page.keyboard.press(key)
    expect(page.locator(NAMES)).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Ottavia Lindgren", timeout=SLOW_MS)


def test_the_next_family_is_one_tap_away_in_the_order_of_the_list(visit: Visit) -> None:
    page = visit("/?sort=name", viewport=PHONE)
    names = page.locator(NAMES).all_inner_texts()
    page.locator(NAMES).nth(2).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(names[2])
    page.get_by_role("link", name="Next family").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(names[3], timeout=SLOW_MS)


def test_the_whole_row_of_a_phone_opens_the_family(visit: Visit) -> None:
    page = visit("/", viewport=PHONE)
    name = page.locator(NAMES).first.inner_text()
    why = page.locator(".caseload .family .why").first.bounding_box()
    assert why
    page.mouse.click(why["x"] + 40, why["y"] + 20)
    expect(page.get_by_role("heading", level=1)).to_have_text(name)


def test_the_heading_of_a_group_stays_in_view(visit: Visit) -> None:
    for size in (PHONE, LAPTOP):
        page = visit("/", viewport=size)
        page.locator(".caseload .family").nth(3).evaluate("e => e.scrollIntoView()")
        page.mouse.wheel(0, -20)
        heads = page.locator(".level-head").all()
        tops = [one.locator("th").bounding_box() for one in heads]
        assert any(box and -1 <= box["y"] <= 1 for box in tops)


def test_keys_go_through_the_list_open_find_and_weigh(visit: Visit) -> None:
    page = visit("/")
    names = page.locator(NAMES).all_inner_texts()
    for key, place in (("j", 0), ("j", 1), ("ArrowDown", 2), ("k", 1), ("ArrowUp", 0)):
        page.keyboard.press(key)
        expect(page.locator(NAMES).nth(place)).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(names[0], timeout=SLOW_MS)
    page.keyboard.press("n")
    expect(page.get_by_role("heading", level=1)).to_have_text(names[1], timeout=SLOW_MS)
    page.keyboard.press("w")
    page.wait_for_url(re.compile("/enter/weight/$"))
    expect(page.locator("dialog[open] form")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("dialog[open]")).to_have_count(0)
    page.locator("main").focus()
    page.keyboard.press("c")
    page.wait_for_url(re.compile("/$"))
    page.keyboard.press("/")
    expect(page.locator("#q")).to_be_focused()
    page.keyboard.type("jn?w")
    expect(page.locator("#q")).to_have_value("jn?w")
    page.locator("main").focus()
    page.keyboard.press("?")
    expect(page.get_by_role("heading", level=1)).to_have_text("Keyboard shortcuts")


def test_keys_can_be_turned_off_and_leave_the_browsers_own_alone(visit: Visit) -> None:
    page = visit("/")
    page.keyboard.press("Control+j")
    page.keyboard.press("Alt+j")
    expect(page.locator(NAMES).first).not_to_be_focused()
    page.goto(page.url + "shortcuts/")
    page.get_by_role("button", name="Turn them off").click()
    expect(page.get_by_text("Shortcuts are off on this device.")).to_be_visible()
    page.keyboard.press("c")
    assert page.url.endswith("/shortcuts/")
    page.get_by_role("button", name="Turn them on").click()
    page.locator("main").focus()
    page.keyboard.press("c")
    expect(page.get_by_role("heading", level=1)).to_have_text("All families")


@pytest.mark.parametrize(
    ("size", "scheme"),
    [
        (PHONE, "light"),
        (LAPTOP, "light"),
        ({"width": 320, "height": 700}, "light"),
        # The scheme changes colours only: one size of each layout.
        (PHONE, "dark"),
        (LAPTOP, "dark"),
    ],
    ids=str,
)
def test_list_filters_and_keys_have_no_fault(
    visit: Visit, size: dict[str, int], scheme: str
) -> None:
    page = visit("/", viewport=size, color_scheme=scheme)
    asked = [*RULES, "wcag2aaa"] if scheme == "light" else [CONTRAST, ENHANCED]
    assert faults_of(page, *asked) == []
    page.locator(".filters > summary").click()
    assert faults_of(page, *asked) == []
    for path in ("?list=due&sort=due&tier=now&setting=ward", "?list=recent", "?sort=name"):
        page.goto(page.url.split("?")[0] + path)
        assert faults_of(page, *asked) == []
    page.goto(page.url.split("?")[0] + "shortcuts/")
    assert faults_of(page, *asked) == []


def faults_of(page: Page, *rules: str) -> list[str]:
    wide = [f"{overflow(page)} px too wide"] if overflow(page) > 0 else []
    low = [f"too low: {one}" for one in small_targets(page)]
    return violations(page, *rules) + wide + low


def test_text_twice_as_large_scrolls_no_phone_sideways(visit: Visit) -> None:
    """What a reader's own size of 200 % does: everything is set in rem."""
    page = visit("/", viewport=PHONE)
    page.evaluate("document.documentElement.style.setProperty('font-size', '200%')")
    assert overflow(page) <= 0


def test_right_to_left_turns_the_list_without_breaking_it(visit: Visit) -> None:
    for size in (PHONE, LAPTOP):
        page = visit("/", viewport=size)
        page.evaluate("document.documentElement.dir = 'rtl'")
        assert overflow(page) <= 0
        name = page.locator(NAMES).first.bounding_box()
        why = page.locator(".caseload .why").nth(1).bounding_box()
        assert name
        assert why
        assert name["x"] > size["width"] / 3


def test_paper_holds_rows_and_room_to_write_and_nothing_to_press(
    visit: Visit, tmp_path: Path
) -> None:
    page = visit("/")
    page.emulate_media(media="print")
    for gone in (".top", ".sift", ".lists", ".foot", ".level-head"):
        assert not any(one.is_visible() for one in page.locator(gone).all())
    row = page.locator(".caseload .family").first
    for part in ("name", "age", "level", "why", "last", "due", "to-write"):
        expect(row.locator(f".{part}").first).to_be_visible()
    assert row.evaluate("e => getComputedStyle(e).breakInside") == "avoid"
    # Words that grow old stand on the screen only; paper has the day and the time.
    due = page.locator(".caseload .due time").first
    assert re.search(r"\d\d:\d\d", due.inner_text())
    sheet = tmp_path / "list.pdf"
    page.pdf(path=sheet, prefer_css_page_size=True)
    pages = len(re.findall(rb"/Type\s*/Page\b", sheet.read_bytes()))
    assert 1 <= pages <= 1 + page.locator(".caseload .family").count() // 8
