"""A device that its user left: what waits there goes in time, and goes out under nobody else's name."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from browser.hand import open_family_unseen
from browser.test_photograph import agree
from browser.test_unsent_photograph import STORED as PHOTOGRAPHS
from browser.test_unsent_photograph import take, told
from patience import until

TYPED = "() => Object.keys(localStorage).filter((one) => one.startsWith('suffice:unsent:')).length"
SOMEBODY_ELSE = '<meta name="user" content="999"><input name="csrfmiddlewaretoken" value="x">'
SECONDS_LATER = "() => new Promise((resolve) => { setTimeout(resolve, 500); })"


@pytest.fixture
def family(device: BrowserContext, address: str) -> str:
    page = device.new_page()
    path = open_family_unseen(page, address, "Lefta Testcase")
    agree(page, f"{address}{path}")
    page.close()
    return path


def test_on_the_page_of_signing_in_all_that_waited_for_a_day_is_erased(
    device: BrowserContext, family: str, address: str
) -> None:
    page = device.new_page()
    page.goto(f"{address}{family}photograph/")
    page.route("**/photograph/", lambda route: route.fulfill(status=500, body="no"))
    take(page)
    expect(told(page)).to_contain_text("The server could not take it")
    page.goto(f"{address}{family}enter/note/")
    page.locator("textarea").fill("typed yesterday")
    assert until(lambda: page.evaluate(TYPED), lambda count: count == 1) == 1
    device.clear_cookies()
    page.clock.set_fixed_time(datetime.now(UTC) + timedelta(hours=23))
    page.goto(f"{address}/")
    expect(page).to_have_url(re.compile("/sign-in/"))
    assert (page.evaluate(TYPED), page.evaluate(PHOTOGRAPHS)) == (1, 1)
    page.clock.set_fixed_time(datetime.now(UTC) + timedelta(hours=25))
    page.reload()
    assert until(lambda: page.evaluate(PHOTOGRAPHS), lambda count: count == 0) == 0
    assert page.evaluate(TYPED) == 0


def test_on_a_device_that_kept_nothing_no_store_is_begun(chromium: Browser, address: str) -> None:
    with chromium.new_context() as device:
        page = device.new_page()
        page.goto(f"{address}/sign-in/")
        page.evaluate(SECONDS_LATER)
        assert page.evaluate("() => indexedDB.databases().then((all) => all.length)") == 0


def a_tap(page: Page, family: str) -> None:
    """What was tapped without a connection, kept under the user of the page."""
    user = page.locator("meta[name=user]").get_attribute("content")
    kept = {
        "at": datetime.now(UTC).timestamp() * 1000, "action": f"{family}enter/wet/", "page": "",
        "label": "Wet", "pressed": True, "itself": True, "fields": [["now", "1"]],
    }  # fmt: skip
    page.evaluate(
        "([key, one]) => localStorage.setItem(key, one)",
        [f"suffice:unsent:{user}:tap:1", json.dumps(kept)],
    )


def listening(posts: list[str], asked: list[str]) -> Callable[[Route], None]:
    """A server at which somebody else has signed in meanwhile."""

    def answer(route: Route) -> None:
        request = route.request
        if request.method == "POST":
            posts.append(request.post_data or "")
            route.fulfill(status=403, body="")
        elif request.resource_type == "fetch":
            asked.append(request.url)
            route.fulfill(status=200, content_type="text/html", body=SOMEBODY_ELSE)
        else:
            route.continue_()

    return answer


def test_once_somebody_else_has_signed_in_nothing_is_sent(
    device: BrowserContext, family: str, address: str
) -> None:
    page = device.new_page()
    page.goto(f"{address}{family}")
    a_tap(page, family)
    posts: list[str] = []
    asked: list[str] = []
    page.route(re.compile(re.escape(family)), listening(posts, asked))
    page.reload()
    send = page.locator("main > .unsent").get_by_role("button", name="Send")
    expect(send).to_be_visible()
    assert asked, "it was asked who has signed in"
    with page.expect_navigation():
        send.click()
    assert posts == []
    assert page.evaluate(TYPED) == 1
