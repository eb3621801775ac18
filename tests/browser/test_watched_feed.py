"""A feed watched with one hand: taps, undo, no network, a closed tab, a second tab, the keyboard."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from browser.checker import violations
from browser.conftest import PHONE, entries_of
from browser.hand import open_family_unseen
from browser.sessions import sign_in_unseen
from browser.test_every_page import NARROW, overflow, small_targets

ANSWER = "form[data-feed] .says"


@pytest.fixture
def device(chromium: Browser, address: str) -> Iterator[BrowserContext]:
    context = chromium.new_context(viewport=PHONE, has_touch=True)  # type: ignore[arg-type]
    failed: list[str] = []
    context.on("weberror", lambda one: failed.append(str(one.error)))
    sign_in_unseen(context, address)
    yield context
    context.close()
    assert failed == []


@pytest.fixture
def watch(device: BrowserContext, address: str, paths: list[str]) -> Page:
    """The page that watches, reached from the family's page in one tap."""
    page = device.new_page()
    if not paths:
        paths.append(open_family_unseen(page, address, "Wanda Testcase"))
    page.goto(f"{address}{paths[0]}")
    page.get_by_role("link", name="Watch a feed").tap()
    page.wait_for_url("**/feed/")
    page.wait_for_load_state("load")
    return page


def begin(page: Page, swallows: int = 0) -> None:
    page.get_by_role("button", name="Left").tap()
    for _ in range(swallows):
        page.locator("[data-swallow]").tap()


def kept(page: Page) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(page.locator("[name=events]").input_value())
    return found


def occurred(page: Page) -> list[str]:
    return [one["what"] for one in kept(page)]


def count(page: Page, swallows: int) -> None:
    expect(page.locator("[data-count]")).to_have_text(str(swallows))


def test_every_tap_counts_once_and_the_last_is_undone(watch: Page) -> None:
    begin(watch, 3)
    count(watch, 3)
    watch.get_by_role("button", name="Undo: swallow").tap()
    count(watch, 2)
    watch.get_by_role("button", name="Not watching", exact=True).tap()
    expect(watch.get_by_role("button", name="Not watching", exact=True)).to_have_attribute(
        "aria-pressed", "true"
    )
    watch.locator("[data-swallow]").tap()  # who counts, watches
    expect(watch.get_by_role("button", name="Not watching", exact=True)).to_have_attribute(
        "aria-pressed", "false"
    )
    watch.get_by_role("button", name="Other side").tap()
    count(watch, 0)
    expect(watch.locator("[data-side]")).to_have_text("Right")
    assert occurred(watch) == ["left", "swallow", "swallow", "away", "swallow", "right"]
    times = [one["at_ms"] for one in kept(watch)]
    assert times == sorted(times)


def test_the_keyboard_counts_too(watch: Page) -> None:
    begin(watch)
    for _ in range(2):
        watch.keyboard.press(" ")
    watch.keyboard.press("Enter")
    count(watch, 3)
    watch.get_by_role("button", name="Pause").press(" ")
    assert occurred(watch) == ["left", "swallow", "swallow", "swallow", "pause"]


def test_the_server_answers_with_the_time(watch: Page) -> None:
    begin(watch, 1)
    expect(watch.locator(ANSWER)).to_have_text("Too little to tell.")
    expect(watch.locator("[data-said]")).to_contain_text("as of ")


def test_a_tap_reaches_the_screen_soon(watch: Page) -> None:
    """What the page measures of itself; docs/performance.md has figures."""
    begin(watch, 5)
    watch.wait_for_function("document.querySelector('form[data-feed]').dataset.slowest")
    slowest = float(watch.locator("form[data-feed]").get_attribute("data-slowest") or "nan")
    assert slowest > 0


def test_a_feed_without_network_is_counted_and_saved_once_when_it_is_back(
    watch: Page, device: BrowserContext, address: str, paths: list[str]
) -> None:
    before = entries_of(watch, paths[0])
    device.set_offline(True)
    begin(watch, 4)
    expect(watch.locator("[data-connection]")).to_contain_text("counting goes on")
    count(watch, 4)
    watch.get_by_role("button", name="End and save").tap()
    expect(watch.locator("form[data-feed] .unsent")).to_be_visible()
    device.set_offline(False)
    expect(watch.get_by_role("heading", name="Watched feed")).to_be_visible()
    expect(watch.locator("main")).to_contain_text("4 swallows")
    assert entries_of(watch, paths[0]) == before + 2  # the watched feed, and the feed that it was
    watch.goto(f"{address}{paths[0]}feed/")
    assert occurred(watch) == []


def test_a_closed_tab_loses_nothing(
    watch: Page, device: BrowserContext, address: str, paths: list[str]
) -> None:
    begin(watch, 3)
    was, key = kept(watch), watch.locator("[name=entry_id]").input_value()
    watch.close()
    page = device.new_page()
    page.goto(f"{address}{paths[0]}feed/")
    count(page, 3)
    found = kept(page)
    assert [one for one in found if one["what"] != "away"] == was
    assert page.locator("[name=entry_id]").input_value() == key
    page.locator("[data-swallow]").tap()
    assert kept(page)[-1]["at_ms"] > was[-1]["at_ms"]


def test_two_tabs_of_a_device_count_one_feed(
    watch: Page, device: BrowserContext, address: str, paths: list[str]
) -> None:
    begin(watch, 2)
    other = device.new_page()
    other.goto(f"{address}{paths[0]}feed/")
    other.locator("[data-swallow]").tap()
    count(watch, 3)
    watch.locator("[data-swallow]").tap()
    count(other, 4)


@pytest.mark.parametrize("jumps", ["0", "1e13", "performance.timeOrigin + 3.6e6"])
def test_a_clock_that_jumps_moves_no_event(watch: Page, jumps: str) -> None:
    """To 1970, by centuries, and by an hour."""
    begin(watch, 1)
    watch.evaluate(f"Date.now = () => {jumps}")
    watch.locator("[data-swallow]").tap()
    first, second, third = (one["at_ms"] for one in kept(watch))
    assert first <= second <= third < 60_000


def test_a_page_that_is_hidden_is_not_watched(watch: Page) -> None:
    begin(watch, 1)
    watch.evaluate(
        """() => {
          Object.defineProperty(document, 'visibilityState', { value: 'hidden' });
          document.dispatchEvent(new Event('visibilitychange'));
        }"""
    )
    assert occurred(watch) == ["left", "swallow", "away"]


def test_pages_have_no_fault_that_the_checker_finds(watch: Page) -> None:
    watch.set_viewport_size(NARROW)  # type: ignore[arg-type]
    begin(watch, 1)
    expect(watch.locator(ANSWER)).to_be_visible()
    faults = {"on": violations(watch)}
    faults["narrow"] = [overflow(watch)] if overflow(watch) > 0 else []
    faults["small"] = small_targets(watch)
    watch.get_by_role("button", name="Came off").tap()
    faults["off"] = violations(watch)
    watch.get_by_role("button", name="End and save").tap()
    expect(watch.get_by_role("heading", name="Watched feed")).to_be_visible()
    faults["feed"] = violations(watch)
    faults["feed, narrow"] = [overflow(watch)] if overflow(watch) > 0 else []
    assert {where: found for where, found in faults.items() if found} == {}
