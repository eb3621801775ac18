"""A photograph without a network: kept on the device, sent once, erased in time and with the consent."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid5

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, Route, expect

from browser.conftest import (
    Arrive,
    close_offline,
    entries_of,
    fill_in_sign_in,
    sign_in,
)
from browser.hand import open_family_unseen
from browser.sessions import PASSPHRASE
from browser.test_photograph import agree, picture
from patience import until

STORED = """() => new Promise((resolve) => {
  const asked = indexedDB.open("suffice-unsent");
  asked.onsuccess = () => {
    const keys = asked.result.transaction("photographs").objectStore("photographs").getAllKeys();
    keys.onsuccess = () => { asked.result.close(); resolve(keys.result.length); };
  };
})"""
COLLEAGUE = "night.shift"


@pytest.fixture
def family(device: BrowserContext, address: str, paths: list[str]) -> str:
    """The path of a family of this file's own, which agrees to photographs."""
    page = device.new_page()
    if not paths:
        paths.append(open_family_unseen(page, address, "Dark Testcase"))
    agree(page, f"{address}{paths[0]}")
    page.close()
    return paths[0]


def take(page: Page) -> None:
    """Choose a photograph and press Keep."""
    page.locator("[name=photo]").set_input_files(
        {"name": "latch.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    )
    page.get_by_role("button", name="Keep it and mark it").click()


def told(page: Page) -> Locator:
    return page.locator("form[data-photograph] .unsent")


def waits(page: Page, count: int) -> None:
    """Wait until so many are kept; a function of the page that promises its answer is never waited for."""
    assert until(lambda: page.evaluate(STORED), lambda kept: kept == count) == count


def take_offline(device: BrowserContext, page: Page) -> None:
    device.set_offline(True)
    take(page)
    expect(told(page)).to_contain_text("No connection. The photograph is kept on this device")


def test_taken_without_a_network_they_are_sent_once_when_it_is_back(
    device: BrowserContext, family: str, arrive: Arrive
) -> None:
    page = arrive(f"{family}photograph/")
    before = entries_of(page, family)
    take_offline(device, page)
    take(page)
    expect(told(page)).to_contain_text("You can take the next one")
    waits(page, 2)
    expect(page.locator("[name=photo]")).to_have_value("")
    device.set_offline(False)
    sent = page.locator("main > .unsent")
    expect(sent).to_have_count(2)
    expect(sent.first).to_contain_text("Sent: Photograph of a latch · Dark Testcase, taken at")
    expect(told(page)).to_have_count(0)
    assert page.evaluate(STORED) == 0
    assert entries_of(page, family) == before + 2
    sent.first.get_by_role("link", name="Mark it").click()
    expect(page.locator("[data-photo] img")).to_have_js_property("complete", value=True)


def test_one_that_waits_when_the_tab_closes_goes_from_the_next_page(
    device: BrowserContext, family: str, arrive: Arrive
) -> None:
    page = arrive(f"{family}photograph/")
    before = entries_of(page, family)
    take_offline(device, page)
    close_offline(page)
    device.set_offline(False)
    page = arrive("/")
    expect(page.locator("main > .unsent")).to_contain_text("Sent: Photograph of a latch")
    assert page.evaluate(STORED) == 0
    assert entries_of(page, family) == before + 1


def test_an_answer_that_was_lost_keeps_one(family: str, arrive: Arrive) -> None:
    page = arrive(f"{family}photograph/")
    before = entries_of(page, family)

    def lose(route: Route) -> None:
        if route.request.method == "POST":
            route.fetch()  # the server has it, and nobody hears of it
            route.abort()
        else:
            route.continue_()

    page.route("**/photograph/", lose)
    take(page)
    expect(told(page)).to_contain_text("No connection")
    assert page.evaluate(STORED) == 1
    page.unroute("**/photograph/")
    page.reload()
    expect(page.locator("main > .unsent")).to_contain_text("Sent:")
    assert page.evaluate(STORED) == 0
    assert entries_of(page, family) == before + 1


def test_where_consent_has_ended_it_is_erased_and_not_sent(
    chromium: Browser, device: BrowserContext, family: str, arrive: Arrive, address: str
) -> None:
    page = arrive(f"{family}photograph/")
    take_offline(device, page)
    page.close()
    device.set_offline(False)
    # On another device: nothing here knows of it.
    other = chromium.new_context()
    other.add_cookies(device.cookies())  # type: ignore[arg-type]
    elsewhere = other.new_page()
    end_consent(elsewhere, f"{address}{family}")
    before = entries_of(elsewhere, family)
    other.close()
    page = arrive("/")
    said = page.locator("main > .unsent")
    expect(said).to_contain_text("Not kept, and erased from this device")
    expect(said).to_contain_text("only once the family has agreed")
    assert page.evaluate(STORED) == 0
    assert entries_of(page, family) == before


def end_consent(page: Page, family: str) -> None:
    page.goto(f"{family}enter/consent/")
    press_no(page)
    expect(page).not_to_have_url(f"{family}enter/consent/")


def press_no(page: Page) -> None:
    page.locator("[name=to][value=photograph]").check(force=True)
    page.locator("[name=given][value=no]").check(force=True)
    parent = page.locator("[name=infant][value=parent]")
    if parent.count():
        parent.check(force=True)
    page.get_by_role("button", name="Save", exact=True).click()


def test_consent_taken_back_on_this_device_erases_it_before_any_network(
    device: BrowserContext, family: str, arrive: Arrive
) -> None:
    consent = arrive(f"{family}enter/consent/")
    page = arrive(f"{family}photograph/")
    take_offline(device, page)
    press_no(consent)
    expect(consent.locator(".unsent")).to_contain_text("No connection")
    assert page.evaluate(STORED) == 0
    consent.get_by_role("link", name="Cancel").click()
    device.set_offline(False)


def test_sign_out_erases_it(
    device: BrowserContext, family: str, arrive: Arrive, address: str
) -> None:
    page = arrive(f"{family}photograph/")
    before = entries_of(page, family)
    kept_by_a_server_that_fails(page)
    page.locator("form[data-sign-out]").evaluate("(form) => form.requestSubmit()")
    page.wait_for_url(re.compile("/sign-in/"))
    assert page.evaluate(STORED) == 0
    fill_in_sign_in(page)
    page.wait_for_url(f"{address}/")
    assert entries_of(page, family) == before


def kept_by_a_server_that_fails(page: Page) -> None:
    """A photograph that waits although the page can load others."""

    def fail(route: Route) -> None:
        if route.request.method == "POST":
            route.fulfill(status=503)
        else:
            route.continue_()

    page.context.route("**/photograph/", fail)
    take(page)
    expect(told(page)).to_contain_text("The server could not take it")
    assert page.evaluate(STORED) == 1


def test_it_is_not_sent_in_the_name_of_whoever_signed_in_since(
    device: BrowserContext, family: str, arrive: Arrive, address: str
) -> None:
    other = arrive("/users/")
    other.get_by_label("Name to sign in with").fill(COLLEAGUE)
    other.get_by_role("button", name="Make the link").click()
    other.goto(other.get_by_label("Link").input_value())
    other.get_by_label("Passphrase", exact=True).fill(PASSPHRASE)
    other.get_by_label("The same passphrase again").fill(PASSPHRASE)
    other.get_by_role("button", name="Save").click()
    other.wait_for_url(f"{address}/")
    page = arrive(f"{family}photograph/")
    before = entries_of(page, family)
    take_offline(device, page)
    # Its session ends, and a colleague signs in on the same device.
    device.clear_cookies(name="sessionid")
    page.route("**/photograph/", lambda route: route.abort())
    device.set_offline(False)
    sign_in(other, address, COLLEAGUE)
    page.unroute("**/photograph/")
    page.evaluate("() => dispatchEvent(new Event('online'))")
    waits = page.locator("main > .unsent")
    expect(waits.get_by_role("link", name="Sign in")).to_be_visible()
    assert page.evaluate(STORED) == 1
    assert entries_of(page, family) == before


def test_a_second_one_whose_first_was_withdrawn_is_kept_as_one_of_its_own(
    device: BrowserContext, family: str, arrive: Arrive, address: str
) -> None:
    page = arrive(f"{family}photograph/")
    take(page)
    page.wait_for_url(re.compile(f"{family}photograph/[0-9a-f-]{{36}}/"))
    first = page.url.split("/")[-2]
    page.goto(f"{address}{family}photograph/?first={uuid5(UUID(first), 'picture')}")
    take_offline(device, page)
    page.close()
    device.set_offline(False)
    page = device.new_page()
    page.route("**/photograph/", lambda route: route.abort())
    page.goto(f"{address}{family}entries/{first}/withdraw/")
    page.locator("[name=reason]").fill("blurred")
    page.locator("form.sheet button.first").click()
    expect(page).not_to_have_url(re.compile("/withdraw/"))
    before = entries_of(page, family)
    page.unroute("**/photograph/")
    page.reload()
    expect(page.locator("main > .unsent")).to_contain_text("Sent: Photograph of a latch")
    assert entries_of(page, family) == before + 1


def test_an_answer_that_breaks_off_stops_none_of_those_after_it(
    family: str, arrive: Arrive
) -> None:
    page = arrive(f"{family}photograph/")
    page.evaluate(
        """() => {
          const whole = Response.prototype.text;
          Response.prototype.text = function () {
            Response.prototype.text = whole;
            return Promise.reject(new TypeError("network error"));
          };
        }"""
    )
    page.route("**/photograph/", lambda route: route.fulfill(headers={"X-Refused": "PHOTO-003"}))
    take(page)
    expect(told(page)).to_contain_text("The photograph is kept on this device")
    page.unroute("**/photograph/")
    take(page)
    page.wait_for_url(re.compile(f"{family}photograph/[0-9a-f-]{{36}}/"))


def test_a_day_later_it_is_erased(family: str, arrive: Arrive, address: str) -> None:
    page = arrive(f"{family}photograph/")
    kept_by_a_server_that_fails(page)
    page.clock.set_fixed_time(datetime.now(UTC) + timedelta(hours=23))
    page.goto(f"{address}/")
    offered = page.locator("main > .unsent")
    expect(offered).to_contain_text("It is kept on this device for a day")
    assert page.evaluate(STORED) == 1
    page.clock.set_fixed_time(datetime.now(UTC) + timedelta(hours=25))
    page.goto(f"{address}/")
    expect(page.locator("h1")).to_be_visible()
    waits(page, 0)
    expect(offered).to_have_count(0)


def test_another_one_chosen_takes_the_place_of_none_that_waits(family: str, arrive: Arrive) -> None:
    page = arrive(f"{family}photograph/")
    kept_by_a_server_that_fails(page)
    page.get_by_role("button", name="Keep it and mark it").click()
    expect(told(page)).to_contain_text("The server could not take it")
    assert page.evaluate(STORED) == 1
    take(page)
    waits(page, 2)


def test_thrown_away_it_is_gone(family: str, arrive: Arrive, address: str) -> None:
    page = arrive(f"{family}photograph/")
    kept_by_a_server_that_fails(page)
    page.goto(f"{address}/")
    page.locator("main > .unsent").get_by_role("button", name="Throw it away").click()
    expect(page.locator("main > .unsent")).to_have_count(0)
    assert page.evaluate(STORED) == 0


def test_a_photograph_of_40_mb_is_refused_before_it_is_sent_and_waits_for_nothing(
    family: str, arrive: Arrive, tmp_path: Path
) -> None:
    page = arrive(f"{family}photograph/")
    large = tmp_path / "large.jpg"
    large.write_bytes(picture().ljust(40_000_000, b"\0"))
    asked: list[str] = []
    page.on("request", lambda one: asked.append(one.method))
    page.locator("[name=photo]").set_input_files(large)
    page.get_by_role("button", name="Keep it and mark it").click()
    expect(told(page)).to_contain_text("larger than 20 MB")
    assert "POST" not in asked
    assert page.evaluate(STORED) == 0


def test_a_device_keeps_no_more_than_its_share(
    device: BrowserContext, family: str, arrive: Arrive
) -> None:
    page = arrive(f"{family}photograph/")
    device.set_offline(True)
    for count in range(1, 7):
        take(page)
        waits(page, count)
        expect(page.locator("[name=photo]")).to_have_value("")
    take(page)
    expect(told(page)).to_contain_text("this device has no room to keep it")
    assert page.evaluate(STORED) == 6
