"""Numbers and words of a contact: whoever writes one and goes on has answered."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from browser.conftest import close_offline, entries_of
from browser.hand import open_family_unseen
from browser.test_contact import wait_for_kept

HISTORY = "contact/parent_history/"


@pytest.fixture
def history(device: BrowserContext, address: str, paths: list[str]) -> Page:
    """The parent's history of a contact of this file's own family."""
    page = device.new_page()
    if not paths:
        paths.append(open_family_unseen(page, address, "Scrivener Testcase"))
        page.goto(f"{address}{paths[0]}contact/")
        page.get_by_role("button", name="Home", exact=True).click()
        expect(page.get_by_role("link", name="Latch")).to_be_visible()
    page.goto(f"{address}{paths[0]}{HISTORY}")
    return page


def test_what_is_written_and_left_is_on_the_record_without_save(
    history: Page, paths: list[str]
) -> None:
    before = entries_of(history, paths[0])
    history.locator("#given-milk_onset_h").fill("78")
    history.locator("#given-medicines").fill("iron, 100 mg, since the birth")
    history.locator(".bar").get_by_role("link", name="All parts").click()
    history.wait_for_url(f"**{paths[0]}contact/")
    wait_for_kept(history, 0)
    history.get_by_role("link", name="Parent's history").click()
    expect(history.locator("#given-milk_onset_h")).to_have_value("78")
    expect(history.locator("#given-medicines")).to_have_value("iron, 100 mg, since the birth")
    assert entries_of(history, paths[0]) == before + 2


def test_save_stores_it_once_and_a_box_left_as_it_was_nothing(
    history: Page, paths: list[str]
) -> None:
    before = entries_of(history, paths[0])
    box = history.locator("#given-births")
    box.fill("2")
    history.locator("#births").get_by_role("button", name="Save").click()
    wait_for_kept(history, 0)
    box.focus()
    box.press("Enter")
    history.locator("#given-blood_loss_ml").focus()
    wait_for_kept(history, 0)
    assert entries_of(history, paths[0]) == before + 1


def test_what_is_written_when_the_page_goes_waits_on_the_device(
    history: Page, paths: list[str], address: str
) -> None:
    before = entries_of(history, paths[0])
    history.context.set_offline(True)
    history.locator("#given-blood_loss_ml").fill("700")
    again = history.context.new_page()
    close_offline(history)
    again.context.set_offline(False)
    again.goto(f"{address}{paths[0]}{HISTORY}")
    wait_for_kept(again, 0)
    again.wait_for_load_state()
    expect(again.locator("#given-blood_loss_ml")).to_have_value("700")
    assert entries_of(again, paths[0]) == before + 1


def test_a_clock_that_is_put_back_loses_no_answer_and_turns_no_order(
    history: Page, paths: list[str], address: str
) -> None:
    """A device whose battery was empty: its clock runs days ahead until it has a network."""
    ahead = datetime.now(UTC) + timedelta(days=9)
    history.clock.set_fixed_time(ahead)
    history.context.set_offline(True)
    diabetes = history.locator("#diabetes")
    diabetes.get_by_role("button", name="Type 1").click()
    history.clock.set_fixed_time(ahead - timedelta(minutes=30))
    diabetes.get_by_role("button", name="Type 2").click()
    wait_for_kept(history, 2)
    again = history.context.new_page()
    close_offline(history)
    again.context.set_offline(False)
    again.goto(f"{address}{paths[0]}{HISTORY}")
    wait_for_kept(again, 0)
    again.reload()
    diabetes = again.locator("#diabetes")
    expect(diabetes.get_by_role("button", name="Type 2")).to_have_attribute("aria-pressed", "true")
    expect(diabetes.locator(".doubt")).to_have_count(0)
