"""A photograph of the latch is kept and marked with one finger, and corrected by keys."""

from __future__ import annotations

import io

from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect

import latches
from browser.checker import violations
from browser.conftest import PHONE
from browser.hand import open_family_unseen
from browser.sessions import sign_in_unseen
from browser.test_every_page import NARROW, overflow, small_targets
from suffice.clinical.latch.mark import Mark


def picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", latches.SIZE, (200, 170, 160)).save(out, "JPEG")
    return out.getvalue()


def touch(page: Page, at: Mark) -> None:
    """A finger on a place of the picture, wherever the page has scrolled to."""
    photo = page.locator("[data-photo]")
    photo.scroll_into_view_if_needed()
    box = photo.locator("img").bounding_box()
    assert box is not None
    scale = box["width"] / latches.SIZE[0]
    page.touchscreen.tap(box["x"] + at.x * scale, box["y"] + at.y * scale)


def agree(page: Page, family: str) -> None:
    """Consent to photographs, entered in its form."""
    page.goto(f"{family}enter/consent/")
    page.locator("[name=to][value=photograph]").check(force=True)
    page.locator("[name=given][value=yes]").check(force=True)
    parent = page.locator("[name=infant][value=parent]")
    if parent.count():
        parent.check(force=True)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page).not_to_have_url(f"{family}enter/consent/")


def test_a_photograph_is_marked_by_touch_and_by_keys(chromium: Browser, address: str) -> None:
    context = chromium.new_context(viewport=PHONE, has_touch=True)  # type: ignore[arg-type]
    failed: list[str] = []
    context.on("weberror", lambda one: failed.append(str(one.error)))
    page = context.new_page()
    sign_in_unseen(context, address)
    family = f"{address}{open_family_unseen(page, address, 'Pia Testcase')}"
    agree(page, family)
    page.goto(f"{family}photograph/")
    page.locator("[name=photo]").set_input_files(
        {"name": "latch.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    )
    page.get_by_role("button", name="Keep it and mark it").tap()
    photo = page.locator("[data-photo] img")
    expect(photo).to_have_js_property("complete", value=True)
    every = latches.marks()
    for one in every:
        touch(page, one)
    expect(page.get_by_role("button", name="Notch of the ear 1")).to_be_visible()
    ear = page.locator("#mark-ear")
    x, _ = (float(part) for part in ear.input_value().split())
    page.keyboard.press("Shift+ArrowLeft")
    moved, _ = (float(part) for part in ear.input_value().split())
    assert moved == max(x - 10, 0)
    page.get_by_role("button", name="Undo the last mark").tap()
    expect(ear).to_have_value("")
    # Undone, the place is the one to mark now; the picture has it again.
    touch(page, every[-1])
    expect(ear).not_to_have_value("")
    page.get_by_role("button", name="Measure").tap()
    expect(page.get_by_role("row", name="Opening ratio")).to_be_visible()
    expect(page.locator(".latch-says")).to_contain_text("Gape angle, seen from the side")
    assert violations(page) == []
    assert small_targets(page) == []
    page.set_viewport_size(NARROW)  # type: ignore[arg-type]
    assert overflow(page) <= 0
    context.close()
    assert failed == []


def keep(page: Page) -> None:
    """Choose a photograph and keep it."""
    page.locator("[name=photo]").set_input_files(
        {"name": "latch.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    )
    page.get_by_role("button", name="Keep it and mark it").tap()
    expect(page.locator("[data-photo] img")).to_have_js_property("complete", value=True)


def begin_contact(page: Page, family: str) -> None:
    page.goto(f"{family}contact/")
    home = page.get_by_role("button", name="Home")
    home.tap()
    expect(home).to_have_count(0)
    page.goto(f"{family}contact/latch/")


def test_two_photographs_of_one_latch_are_read_together(chromium: Browser, address: str) -> None:
    context = chromium.new_context(viewport=PHONE, has_touch=True)  # type: ignore[arg-type]
    failed: list[str] = []
    context.on("weberror", lambda one: failed.append(str(one.error)))
    page = context.new_page()
    sign_in_unseen(context, address)
    family = f"{address}{open_family_unseen(page, address, 'Twice Testcase')}"
    agree(page, family)
    begin_contact(page, family)
    page.get_by_role("link", name="Photograph the latch").tap()
    for round_ in range(2):
        keep(page)
        for one in latches.marks():
            touch(page, one)
        page.get_by_role("button", name="Measure").tap()
        expect(page.get_by_role("row", name="Opening ratio").first).to_be_visible()
        if round_ == 0:
            # The one tap that a second photograph costs more than the first.
            page.get_by_role("link", name="Photograph the same latch again").tap()
    both = page.get_by_role("region", name="What both say together")
    alone = page.get_by_role("region", name="What this one says alone")
    expect(both.get_by_role("row", name="Gape angle")).to_be_visible()
    expect(alone.get_by_role("row", name="Gape angle")).to_be_visible()

    def width(of: Locator) -> float:
        text = of.get_by_role("row", name="Opening ratio").locator("td").last.inner_text()
        low, high = (float(part) for part in text.split("–"))
        return high - low

    assert width(both) < width(alone)
    assert violations(page) == []
    assert small_targets(page) == []
    page.set_viewport_size(NARROW)  # type: ignore[arg-type]
    assert overflow(page) <= 0
    page.get_by_role("link", name="The other one").tap()
    expect(page.get_by_role("region", name="What both say together")).to_be_visible()
    context.close()
    assert failed == []
