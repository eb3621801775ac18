"""Nothing typed is lost: kept on the device, offered again, sent once, and erased in time."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from playwright.sync_api import BrowserContext, Page, Route, expect

from browser.conftest import (
    UNSENT,
    Arrive,
    close_offline,
    entries_of,
    fill_in_sign_in,
    sign_in,
)
from browser.hand import open_family_unseen
from browser.sessions import PASSPHRASE
from patience import until

FAMILY = re.compile(r"/families/[0-9a-f-]{36}/$")
COLLEAGUE = "night.nurse"


@pytest.fixture
def family(device: BrowserContext, address: str, paths: list[str]) -> str:
    """The path of a family of this file's own."""
    if not paths:
        page = device.new_page()
        paths.append(open_family_unseen(page, address, "Kepta Testcase"))
        page.close()
    return paths[0]


def type_note(page: Page, text: str) -> None:
    """A note in the form over the family's page."""
    page.locator("main").get_by_role("link", name="Note", exact=True).first.click()
    page.locator("dialog[open] textarea").fill(text)


def save(page: Page) -> None:
    page.get_by_role("button", name="Save", exact=True).click()


def notes_of(page: Page, family: str, text: str) -> int:
    """How many notes with this text the family's export holds."""
    start = page.url.split("/families", 1)[0].split("/sign-in", 1)[0].rstrip("/")
    answer = page.request.get(f"{start}{family}export/")
    return json.dumps(json.loads(answer.body())).count(text)


def test_what_could_not_be_sent_goes_when_the_connection_is_back(
    device: BrowserContext, family: str, arrive: Arrive
) -> None:
    text = f"typed under ground {uuid4()}"
    page = arrive(family)
    type_note(page, text)
    device.set_offline(True)
    save(page)
    expect(page.locator("dialog .unsent")).to_contain_text("No connection")
    assert page.locator("dialog textarea").input_value() == text
    device.set_offline(False)
    expect(page.locator(".messages")).to_contain_text("Saved: Note")
    assert page.evaluate(UNSENT) == []
    assert notes_of(page, family, text) == 1


def test_what_was_not_sent_when_the_tab_closed_is_offered_and_sent_once(
    device: BrowserContext, family: str, arrive: Arrive
) -> None:
    text = f"typed in a lift {uuid4()}"
    page = arrive(family)
    type_note(page, text)
    device.set_offline(True)
    save(page)
    expect(page.locator("dialog .unsent")).to_be_visible()
    close_offline(page)
    device.set_offline(False)
    page = arrive("/")
    expect(page.locator(".unsent")).to_contain_text("Note · Kepta Testcase")
    page.locator(".unsent").get_by_role("link", name="Open it").click()
    # A tab that the browser closes may hear of the connection, and try once more, before it is gone.
    expect(page.locator("dialog .unsent")).to_contain_text("is back")
    expect(page.locator("dialog textarea")).to_have_value(text)
    save(page)
    page.wait_for_url(FAMILY)
    expect(page.locator(".messages")).to_contain_text("Saved: Note")
    assert page.evaluate(UNSENT) == []
    assert notes_of(page, family, text) == 1


def test_tab_that_closes_while_somebody_types_loses_nothing(family: str, arrive: Arrive) -> None:
    page = arrive(f"{family}enter/weight/")
    page.get_by_label("Weight", exact=True).fill("3111")
    page.get_by_text("Clothed", exact=True).click()
    page.close()
    page = arrive(f"{family}enter/weight/")
    expect(page.get_by_label("Weight", exact=True)).to_have_value("3111")
    expect(page.get_by_label("Clothed")).to_be_checked()
    page.get_by_role("button", name="Throw it away").click()
    expect(page.get_by_label("Weight", exact=True)).to_have_value("")
    assert page.evaluate(UNSENT) == []


def test_session_that_expired_during_save_costs_nothing_but_signing_in(
    device: BrowserContext, family: str, arrive: Arrive
) -> None:
    page = arrive(family)
    type_note(page, "typed over tea")
    device.clear_cookies(name="sessionid")
    save(page)
    expect(page.locator("dialog .unsent")).to_contain_text("no longer signed in")
    page.locator("dialog .unsent").get_by_role("link", name="Sign in").click()
    fill_in_sign_in(page)
    page.wait_for_url(re.compile("/enter/note/$"))
    expect(page.locator("textarea")).to_have_value("typed over tea")
    save(page)
    page.wait_for_url(FAMILY)
    assert notes_of(page, family, "typed over tea") == 1
    assert page.evaluate(UNSENT) == []


def test_answer_that_was_lost_and_a_double_tap_store_once(family: str, arrive: Arrive) -> None:
    page = arrive(family)
    type_note(page, "typed twice")

    def lose(route: Route) -> None:
        route.fetch()  # the server has stored it, and nobody hears of it
        route.abort()

    page.route("**/enter/note/", lose)
    save(page)
    expect(page.locator("dialog .unsent")).to_contain_text("No connection")
    page.unroute("**/enter/note/")
    page.get_by_role("button", name="Save", exact=True).dblclick()
    page.wait_for_url(FAMILY)
    assert notes_of(page, family, "typed twice") == 1


def test_a_tab_closed_during_save_claims_no_more_than_the_device_knows(
    family: str, arrive: Arrive
) -> None:
    page = arrive(family)
    type_note(page, "typed and gone")

    # It is sent, and the tab is closed before the page has seen an answer.
    page.evaluate(
        """() => { const sent = window.fetch;
                   window.fetch = (...all) => { sent(...all); return new Promise(() => {}) } }"""
    )
    save(page)
    until(lambda: notes_of(page, family, "typed and gone"), lambda count: count == 1)
    # A page in which no script runs has shown the confirmation, which would answer it on the next one.
    page.request.get(page.url)
    page.close()
    page = arrive("/")
    offered = page.locator(".unsent")
    expect(offered).to_contain_text("It may be saved already")
    expect(offered).not_to_contain_text("Not sent yet")
    offered.get_by_role("link", name="Open it").click()
    expect(page.locator("dialog .unsent")).to_contain_text("It may be saved already")
    save(page)
    page.wait_for_url(FAMILY)
    assert page.evaluate(UNSENT) == []
    assert notes_of(page, family, "typed and gone") == 1


def test_one_tap_without_a_connection_is_kept_with_its_time_and_sent_once(
    device: BrowserContext, family: str, arrive: Arrive
) -> None:
    page = arrive(family)
    before = entries_of(page, family)
    device.set_offline(True)
    wet = page.locator(".quick").get_by_role("button", name="Wet", exact=True)
    wet.click()
    expect(page.locator(".quick .unsent")).to_contain_text("No connection")
    wet.click()
    page.wait_for_timeout(300)
    assert len(page.evaluate(UNSENT)) == 1
    device.set_offline(False)
    expect(page.locator(".messages")).to_contain_text("Saved: wet diaper")
    assert entries_of(page, family) == before + 1


def test_a_form_asked_for_without_a_connection_leaves_the_page_in_view(
    device: BrowserContext, family: str, arrive: Arrive
) -> None:
    page = arrive(family)
    note = page.locator("main").get_by_role("link", name="Note", exact=True).first
    device.set_offline(True)
    note.click()
    told = page.locator(".unsent")
    expect(told).to_contain_text("this form cannot be opened now")
    expect(told).to_be_in_viewport()
    expect(page.get_by_role("heading", name="Kepta Testcase")).to_be_attached()
    device.set_offline(False)
    expect(told).to_have_count(0)
    note.click()
    expect(page.locator("dialog[open] textarea")).to_be_visible()


@pytest.mark.parametrize("is_list", [False, True])
def test_a_key_without_a_connection_leaves_the_page_in_view(
    device: BrowserContext, family: str, arrive: Arrive, is_list: bool
) -> None:
    page = arrive("/" if is_list else family)
    if is_list:
        page.locator(".caseload .name a").last.focus()
    device.set_offline(True)
    page.keyboard.press("w")
    told = page.locator(".unsent")
    expect(told).to_contain_text("this form cannot be opened now")
    expect(told).to_be_in_viewport()
    device.set_offline(False)
    expect(told).to_have_count(0)
    page.keyboard.press("w")
    expect(page.locator("dialog[open] input.short").first).to_be_visible()


@pytest.mark.parametrize("key", ["n", "c", "?", "/"])
def test_a_key_that_leads_elsewhere_without_a_connection_leaves_the_page_in_view(
    device: BrowserContext, family: str, arrive: Arrive, key: str
) -> None:
    page = arrive(family)
    device.set_offline(True)
    page.keyboard.press(key)
    told = page.locator(".unsent")
    expect(told).to_contain_text("another page cannot be loaded now")
    expect(page.get_by_role("heading", name="Kepta Testcase")).to_be_attached()
    device.set_offline(False)
    expect(told).to_have_count(0)
    page.keyboard.press(key)
    page.wait_for_url(lambda now: not now.endswith(family))


def test_a_page_that_loads_itself_again_takes_nothing_from_under_the_hand(
    device: BrowserContext, family: str, arrive: Arrive, address: str
) -> None:
    page = arrive(family)
    device.set_offline(True)
    page.locator(".quick").get_by_role("button", name="Wet", exact=True).click()
    expect(page.locator(".quick .unsent")).to_contain_text("No connection")
    close_offline(page)
    device.set_offline(False)
    page = arrive("/users/")
    page.clock.install()
    name = page.get_by_label("Name to sign in with")
    name.fill("half written")
    name.blur()
    page.evaluate("() => dispatchEvent(new Event('online'))")
    page.wait_for_function(f"() => ({UNSENT})().length === 0")
    page.clock.run_for(30_000)
    expect(name).to_have_value("half written")
    page.evaluate("() => { document.body.dataset.before = 'yes'; }")
    name.fill("")
    name.blur()
    page.clock.run_for(30_000)
    expect(page.locator("body[data-before]")).to_have_count(0)


def test_double_tap_on_a_diaper_stores_one(family: str, arrive: Arrive) -> None:
    page = arrive(family)
    before = entries_of(page, family)
    page.locator(".quick").get_by_role("button", name="Stool", exact=True).dblclick()
    expect(page.locator(".messages")).to_contain_text("Saved: stool")
    page.wait_for_load_state("networkidle")
    assert entries_of(page, family) == before + 1


def test_sign_out_erases_what_its_user_kept(family: str, arrive: Arrive, address: str) -> None:
    page = arrive(f"{family}enter/note/")
    page.locator("textarea").fill("typed and left")
    page.goto(f"{address}/")
    expect(page.locator(".unsent")).to_be_visible()
    page.locator("form[data-sign-out]").evaluate("(form) => form.requestSubmit()")
    page.wait_for_url(re.compile("/sign-in/"))
    assert page.evaluate(UNSENT) == []


def test_what_was_kept_is_erased_a_day_later(family: str, arrive: Arrive, address: str) -> None:
    page = arrive(f"{family}enter/note/")
    page.locator("textarea").fill("typed yesterday")
    page.clock.set_fixed_time(datetime.now(UTC) + timedelta(hours=23))
    page.goto(f"{address}/")
    expect(page.locator(".unsent")).to_be_visible()
    page.clock.set_fixed_time(datetime.now(UTC) + timedelta(hours=25))
    page.goto(f"{address}/")
    expect(page.locator("h1")).to_be_visible()
    expect(page.locator(".unsent")).to_have_count(0)
    assert page.evaluate(UNSENT) == []


def test_another_user_of_the_device_does_not_see_it(
    device: BrowserContext, family: str, arrive: Arrive, address: str
) -> None:
    page = arrive("/users/")
    page.get_by_label("Name to sign in with").fill(COLLEAGUE)
    page.get_by_role("button", name="Make the link").click()
    page.goto(page.get_by_label("Link").input_value())
    page.get_by_label("Passphrase", exact=True).fill(PASSPHRASE)
    page.get_by_label("The same passphrase again").fill(PASSPHRASE)
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(f"{address}/")
    page.goto(f"{address}{family}enter/note/")
    page.locator("textarea").fill("typed by somebody else")
    device.clear_cookies(name="sessionid")
    sign_in(page, address, COLLEAGUE)
    page.goto(f"{address}/")
    expect(page.locator("h1")).to_be_visible()
    expect(page.locator(".unsent")).to_have_count(0)
    page.goto(f"{address}{family}enter/note/")
    expect(page.locator("textarea")).to_have_value("")
    expect(page.locator(".unsent")).to_have_count(0)
    page.locator("form[data-sign-out]").evaluate("(form) => form.requestSubmit()")
    page.wait_for_url(re.compile("/sign-in/"))
    fill_in_sign_in(page)
    page.goto(f"{address}{family}enter/note/")
    expect(page.locator("textarea")).to_have_value("typed by somebody else")


def test_twins_half_typed_come_back_as_twins(arrive: Arrive) -> None:
    page = arrive("/families/new/")
    page.locator("#id_name").fill("Halfway Testcase")
    page.get_by_role("button", name="Another infant").click()
    page.locator("#id_infant-2-name").fill("Bo")
    page.close()
    page = arrive("/families/new/")
    expect(page.locator("#id_infant-2-name")).to_have_value("Bo")
    expect(page.locator(".unsent")).to_contain_text("is back")
    page.get_by_role("link", name="Cancel").click()
    page.wait_for_url(re.compile(r"/$"))
    assert page.evaluate(UNSENT) == []


def test_passphrases_are_never_kept(arrive: Arrive) -> None:
    page = arrive("/account/passphrase/")
    page.get_by_label("Current passphrase").fill("never to be kept")
    page.close()
    page = arrive("/")
    assert page.evaluate(UNSENT) == []


def test_back_closes_the_form_and_keeps_what_was_typed(family: str, arrive: Arrive) -> None:
    page = arrive(family)
    type_note(page, "typed and gone back")
    page.go_back()
    expect(page.locator("dialog")).to_have_count(0)
    page.wait_for_url(FAMILY)
    expect(page.locator("main > .unsent")).to_contain_text("Not sent yet: Note")
    page.locator("main").get_by_role("link", name="Note", exact=True).first.click()
    expect(page.locator("dialog textarea")).to_have_value("typed and gone back")
    page.locator("dialog").get_by_role("link", name="Cancel").click()
    expect(page.locator("dialog")).to_have_count(0)
    expect(page.locator("main > .unsent")).to_have_count(0)
    assert page.evaluate(UNSENT) == []


def test_what_was_kept_outlives_a_clock_that_is_put_right(
    family: str, arrive: Arrive, address: str
) -> None:
    page = arrive(f"{family}enter/note/")
    page.locator("textarea").fill("typed by a clock that went ahead")
    page.clock.set_fixed_time(datetime.now(UTC) - timedelta(minutes=5))
    page.goto(f"{address}/")
    expect(page.locator(".unsent")).to_be_visible()
    # Whatever it was put right by, nobody has it yet; its day begins now.
    page.clock.set_fixed_time(datetime.now(UTC) - timedelta(days=2))
    page.goto(f"{address}/")
    expect(page.locator(".unsent")).to_be_visible()
    page.clock.set_fixed_time(datetime.now(UTC) - timedelta(hours=23))
    page.goto(f"{address}/")
    expect(page.locator("h1")).to_be_visible()
    expect(page.locator(".unsent")).to_have_count(0)
    assert page.evaluate(UNSENT) == []


def test_a_time_that_is_changed_while_a_question_is_on_its_way_is_no_longer_now(
    family: str, arrive: Arrive
) -> None:
    page = arrive(f"{family}enter/temperature/")
    held: list[Route] = []
    page.route("**/enter/temperature/", lambda route: held.append(route))  # noqa: PLW0108  # no builtin
    page.get_by_label("Temperature", exact=True).fill("many")
    save(page)
    until(lambda: page.wait_for_timeout(20) or held, bool)
    page.locator("[data-moment] summary").click()
    when = page.locator("[data-moment] input[name=when]")
    now = datetime.strptime(when.input_value(), "%d/%m/%Y %H:%M")  # noqa: DTZ007  # the clinic's clock
    earlier = now - timedelta(hours=1)
    when.fill(f"{earlier:%d/%m/%Y %H:%M}")
    held.pop().continue_()
    expect(page.locator("#what-is-wrong")).to_be_visible()
    expect(page.locator("[data-now]")).to_have_text(
        f"{earlier:%a} {earlier.day} {earlier:%b %Y, %H:%M}"
    )
    assert when.input_value() == f"{earlier:%d/%m/%Y %H:%M}"
