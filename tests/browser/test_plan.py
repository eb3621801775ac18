"""A plan on a phone, without any script: proposed, one line changed, kept, and shown against what happened."""

from __future__ import annotations

from playwright.sync_api import Browser, BrowserContext, expect

from browser.conftest import PHONE
from browser.hand import open_family_unseen
from browser.test_every_page import NARROW, faults_of

SLOW_MS = 40_000
"""For a page that makes a paper or a day while the machine is busy with other tests."""


def test_a_plan_is_kept_without_a_script(
    chromium: Browser, device: BrowserContext, address: str, paths: list[str]
) -> None:
    opened = device.new_page()
    path = open_family_unseen(opened, address, "Planina Testcase")
    bare = chromium.new_context(
        viewport=PHONE, java_script_enabled=False, storage_state=device.storage_state()
    )
    page = bare.new_page()
    page.goto(f"{address}{path}plan/")
    expect(page.get_by_role("heading", name="Proposed")).to_be_visible()
    part = page.locator("#part-supplement")
    part.locator("summary", has_text="Change").click()
    page.get_by_label("Supplement in 24 h", exact=False).first.fill("2 oz")
    page.get_by_role("button", name="Keep this plan").click()
    expect(page.get_by_role("heading", name="The last plan, and what happened")).to_be_visible()
    expect(page.locator(".against")).to_contain_text("59 mL")
    # What was kept has its clock above; the day of another plan is looked at where that is proposed.
    page.locator("#again > summary").click()
    page.locator("#day a").click()
    expect(page.locator("#day svg.clock")).to_be_visible()
    bare.close()


def test_the_page_fits_a_phone_and_can_be_read_by_all(device: BrowserContext, address: str) -> None:
    page = device.new_page()
    path = open_family_unseen(page, address, "Planeta Testcase")
    page.set_viewport_size(NARROW)
    page.goto(f"{address}{path}plan/")
    expect(page.locator("#day svg.clock")).to_be_visible()
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert faults_of(page) == []


def test_the_preview_follows_typing_with_one_request_and_leaves_the_keyboard(
    device: BrowserContext, address: str
) -> None:
    plan = device.new_page()
    plan.set_default_timeout(SLOW_MS)
    path = open_family_unseen(plan, address, "Previa Testcase")
    plan.goto(f"{address}{path}plan/")
    asked: list[str] = []
    plan.on("request", lambda one: asked.append(one.url) if "/preview/" in one.url else None)
    plan.evaluate("document.querySelectorAll('form.plan details').forEach(one => one.open = true)")
    feeds = plan.locator("input[name=feeds_count]")
    feeds.fill("9")
    plan.wait_for_timeout(1200)
    assert asked == [], "nothing is asked for before it is opened"
    plan.locator("#preview > summary").click()
    picture = plan.locator("#preview img").first
    picture.wait_for()
    before = picture.get_attribute("src")
    feeds.press("Control+A")
    plan.keyboard.type("11", delay=60)
    expect(picture).not_to_have_attribute("src", before or "", timeout=SLOW_MS)
    assert len(asked) == 2, "one for opening, one for all that was typed"
    assert plan.evaluate("document.activeElement.name") == "feeds_count"
    assert feeds.input_value() == "11"
