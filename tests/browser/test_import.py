"""A file on its way to the record: how far it is is seen, it can be left, and a failure is said."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, FilePayload, Page, Route, StorageState, expect

from browser.conftest import PHONE, Visit

SLOW_MS = 20_000
"""For a page that is loaded while the machine is busy with other tests."""


def held_if_sent(route: Route) -> None:
    if route.request.method != "POST":
        route.continue_()


@pytest.fixture
def phone(visit: Visit) -> Page:
    return visit("/", is_new_session=True, viewport=PHONE, has_touch=True)


def test_reading_a_file_for_longer_than_a_moment_says_so_and_can_be_left(
    phone: Page, address: str
) -> None:
    phone.goto(f"{address}/import/")
    phone.locator("#id_file").set_input_files(
        {"name": "ward.csv", "mimeType": "text/csv", "buffer": b"infant,date,weight g\n1,x,1\n"}
    )
    busy = phone.get_by_role("status").filter(has_text="Reading the file")
    expect(busy).to_be_hidden()
    # As long as no answer comes, the browser stays on the page.
    phone.route("**/import/", held_if_sent)
    phone.get_by_role("button", name="Look at the file").click()
    expect(busy).to_be_visible()
    expect(busy.get_by_role("progressbar")).to_be_in_viewport()
    busy.get_by_role("link", name="Cancel").click()
    expect(phone.get_by_role("button", name="Look at the file")).to_be_visible()
    expect(busy).to_be_hidden()


def test_a_big_file_says_how_much_of_it_was_sent_and_read(phone: Page, address: str) -> None:
    phone.goto(f"{address}/import/")
    rows = b"infant,date,weight g\n" + b"1,2026-11-03 10:00,3200\n" * 20_000
    phone.locator("#id_file").set_input_files(
        {"name": "ward.csv", "mimeType": "text/csv", "buffer": rows}
    )
    percent = phone.locator("[data-percent]")
    # While the next page is awaited nothing can be asked of this one: it writes down what it shows.
    percent.evaluate(
        """span => new MutationObserver(() => {
             sessionStorage.shown = `${sessionStorage.shown ?? ""}${span.textContent};`;
           }).observe(span, { childList: true })"""
    )
    slow = phone.context.new_cdp_session(phone)
    slow.send("Network.enable")
    slow.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": 0, "downloadThroughput": -1, "uploadThroughput": 150_000},
    )
    held: list[Route] = []
    asked: list[Route] = []

    def read(route: Route) -> None:
        asked.append(route)
        route.fulfill(json={"done": 3, "total": 4})
        if len(asked) > 1 and held:
            held.pop().continue_()

    phone.route("**/table/", lambda route: held.append(route))  # noqa: PLW0108  # no builtin
    phone.route("**/reading/", read)
    phone.get_by_role("button", name="Look at the file").click()
    expect(percent).to_have_text(re.compile(r"^\d+\s%$"), timeout=SLOW_MS)
    expect(phone.locator("h1")).to_have_text("Import a table", timeout=SLOW_MS)
    shown = phone.evaluate("sessionStorage.shown").replace("\u00a0", " ").split(";")
    sent = [int(one.removesuffix(" %")) for one in shown[: shown.index("75 %")] if one]
    assert sent == sorted(sent)
    assert len(set(sent)) > 1


ROWS: FilePayload = {
    "name": "ward.csv",
    "mimeType": "text/csv",
    "buffer": b"infant,date,weight g\n1,x,1\n",
}


def test_a_file_that_is_refused_says_so_and_another_can_be_sent(phone: Page, address: str) -> None:
    phone.goto(f"{address}/import/")
    look = phone.get_by_role("button", name="Look at the file")
    phone.locator("#id_file").set_input_files({**ROWS, "buffer": b""})
    look.click()
    expect(phone.locator("#id_file[aria-invalid=true]")).to_be_visible()
    phone.locator("#id_file").set_input_files(ROWS)
    look.click()
    expect(phone.locator("h1")).to_have_text("Import a table")


def test_a_file_that_could_not_be_sent_can_be_sent_again(
    chromium: Browser, address: str, signed_in: StorageState
) -> None:
    # A window of its own: of a connection that is cut the console complains, as it should.
    with chromium.new_context(viewport=PHONE, storage_state=signed_in) as device:
        page = device.new_page()
        page.goto(f"{address}/import/")
        look = page.get_by_role("button", name="Look at the file")
        page.locator("#id_file").set_input_files(ROWS)
        device.set_offline(True)
        look.click()
        expect(page.get_by_role("alert").filter(has_text="was not sent")).to_be_visible()
        device.set_offline(False)
        look.click()
        expect(page.locator("h1")).to_have_text("Import a table")
