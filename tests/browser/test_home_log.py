"""The log of a day under a finger, by keyboard and without a script."""

from __future__ import annotations

from playwright.sync_api import Browser, BrowserContext, expect

from browser.conftest import PHONE
from browser.hand import open_family_unseen
from browser.test_every_page import NARROW, faults_of, overflow


def test_a_tap_is_a_tick_and_a_second_one_makes_two(device: BrowserContext, address: str) -> None:
    page = device.new_page()
    path = open_family_unseen(page, address, "Logina Testcase")
    page.goto(f"{address}{path}log/")
    wet = page.locator("[name=wet-3]")
    for wanted in ("1", "2", "3", ""):
        wet.click()
        expect(wet).to_have_value(wanted)
    wet.focus()
    page.keyboard.press("Space")
    expect(wet).to_have_value("1")
    page.keyboard.press("Space")
    expect(wet).to_have_value("")
    page.keyboard.type("2")
    expect(wet).to_have_value("2")


def test_a_log_is_saved_without_a_script(
    chromium: Browser, device: BrowserContext, address: str
) -> None:
    opened = device.new_page()
    path = open_family_unseen(opened, address, "Logana Testcase")
    bare = chromium.new_context(
        viewport=PHONE, java_script_enabled=False, storage_state=device.storage_state()
    )
    page = bare.new_page()
    page.goto(f"{address}{path}log/")
    page.locator("[name=left-0]").fill("1")
    page.locator("[name=milk-2]").fill("30")
    page.get_by_role("button", name="Look it over").click()
    expect(page.locator(".row-problem")).to_contain_text("not which milk")
    page.locator("[name=formula-2]").fill("1")
    page.get_by_role("button", name="Look it over").click()
    expect(page.get_by_role("heading", name="What will be saved")).to_be_visible()
    page.get_by_role("button", name="Save these entries").click()
    expect(page.locator("body")).to_contain_text("The log is saved: 2 entries.")
    bare.close()


def test_the_page_fits_a_phone_and_can_be_read_by_all(device: BrowserContext, address: str) -> None:
    page = device.new_page()
    path = open_family_unseen(page, address, "Logeta Testcase")
    page.set_viewport_size(NARROW)
    page.goto(f"{address}{path}log/")
    assert overflow(page) <= 0
    assert faults_of(page) == []
