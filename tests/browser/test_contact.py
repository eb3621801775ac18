"""A contact on a phone: taps show at once, wait on the device without a network, and come back."""

from __future__ import annotations

import json
import re
from urllib.parse import unquote

import pytest
from playwright.sync_api import APIResponse, BrowserContext, Error, Page, Route, expect

from browser.checker import CONTRAST
from browser.conftest import Visit, close_offline, entries_of
from browser.hand import open_family_unseen
from browser.test_every_page import NARROW, faults_of, overflow
from browser.test_languages import beyond_the_edge, use_language
from patience import until

KEPT = "() => Object.keys(localStorage).filter((one) => one.includes(':tap:')).length"


@pytest.fixture
def phone(device: BrowserContext, address: str, paths: list[str]) -> Page:
    """The page of the latch of a contact of this file's own family."""
    page = device.new_page()
    if not paths:
        paths.append(open_family_unseen(page, address, "Contessa Testcase"))
        page.goto(f"{address}{paths[0]}")
        page.get_by_role("link", name="Start a contact").click()
        page.get_by_role("button", name="Home", exact=True).click()
        expect(page.get_by_role("link", name="Latch")).to_be_visible()
    page.goto(f"{address}{paths[0]}contact/")
    page.get_by_role("link", name="Latch").click()
    expect(page.locator("h1")).to_contain_text("Latch")
    return page


def wait_for_kept(page: Page, count: int) -> None:
    """Wait until as many taps wait on the device; the page may be loaded again meanwhile."""

    def kept() -> int | None:
        try:
            found: int = page.evaluate(KEPT)
        except Error:
            return None
        return found

    until(kept, lambda found: found == count)


def test_a_tap_shows_at_once_is_stored_and_taken_back(phone: Page, paths: list[str]) -> None:
    before = entries_of(phone, paths[0])
    wide = phone.locator("#gape").get_by_role("button", name="Wide").first
    wide.click()
    expect(wide).to_have_attribute("aria-pressed", "true")
    short = phone.locator("#gape").get_by_role("button", name="Short of it").first
    short.click()
    expect(wide).to_have_attribute("aria-pressed", "false")
    wait_for_kept(phone, 0)
    phone.reload()
    expect(short).to_have_attribute("aria-pressed", "true")
    assert entries_of(phone, paths[0]) == before + 2
    short.click()
    wait_for_kept(phone, 0)
    phone.reload()
    expect(short).to_have_attribute("aria-pressed", "false")


def test_the_rest_is_as_expected_from_the_bar_once_the_button_on_top_is_out_of_view(
    phone: Page, paths: list[str]
) -> None:
    phone.goto(f"{phone.url.rsplit('/contact/', 1)[0]}/contact/mouth/")
    rest = phone.get_by_role("button", name="The rest as expected")
    on_top = phone.get_by_role("button", name="I looked: as expected")
    onward = phone.get_by_role("link", name=re.compile("^Next:"))
    expect(on_top).to_be_in_viewport()
    expect(rest).to_be_hidden()
    phone.locator(".asked").last.scroll_into_view_if_needed()
    expect(rest).to_be_in_viewport()
    stood = onward.bounding_box()
    on_top.scroll_into_view_if_needed()
    expect(rest).to_be_hidden()
    phone.locator(".asked").last.scroll_into_view_if_needed()
    expect(rest).to_be_in_viewport()
    assert onward.bounding_box() == stood
    rest.click()
    whole = phone.locator("#palate").get_by_role("button", name="Whole").first
    expect(whole).to_have_attribute("aria-pressed", "true")
    expect(on_top).to_have_count(0)
    expect(rest).to_have_count(0)


def test_without_a_network_taps_wait_and_are_sent_in_their_order(
    phone: Page, paths: list[str]
) -> None:
    before = entries_of(phone, paths[0])
    phone.context.set_offline(True)
    block = phone.locator("#chin")
    block.get_by_role("button", name="Yes").first.click()
    block.get_by_role("button", name="No").first.click()
    expect(phone.locator("[data-sending]")).to_be_visible()
    assert phone.evaluate(KEPT) == 2
    phone.context.set_offline(False)
    wait_for_kept(phone, 0)
    phone.wait_for_load_state()
    expect(block.get_by_role("button", name="No").first).to_have_attribute("aria-pressed", "true")
    expect(phone.get_by_text("Two answers differ")).to_have_count(0)
    assert entries_of(phone, paths[0]) == before + 2


def test_a_tap_that_is_on_its_way_is_not_sent_a_second_time(phone: Page) -> None:
    phone.clock.install()
    phone.reload()
    held: list[Route] = []
    phone.route("**/answer/", lambda route: held.append(route))  # noqa: PLW0108  # no builtin
    phone.clock.fast_forward(10_000)
    phone.locator("#corners_touch").get_by_role("button", name="Yes").first.click()
    until(lambda: phone.wait_for_timeout(20) or held, bool)
    phone.clock.fast_forward(10_000)  # past the moment at which what waits is tried again
    phone.wait_for_timeout(200)
    assert len(held) == 1
    held.pop().continue_()
    wait_for_kept(phone, 0)


def test_without_a_network_links_and_buttons_leave_the_part_in_view(
    phone: Page, paths: list[str]
) -> None:
    """The browser's page of error would take away what was tapped, and with it how it stands."""
    before = entries_of(phone, paths[0])
    here = phone.url
    phone.context.set_offline(True)
    nose = phone.locator("#nose_free").get_by_role("button", name="Yes").first
    nose.click()
    told = phone.locator(".unsent")
    for leads_away in (
        phone.get_by_role("link", name="All parts").first,
        phone.get_by_role("button", name="I looked: as expected"),
        phone.get_by_role("banner").get_by_role("link", name="Suffice"),
    ):
        leads_away.click()
        expect(told).to_contain_text("another page cannot be loaded now")
        expect(told).to_be_in_viewport()
        assert phone.url == here
    expect(nose).to_have_attribute("aria-pressed", "true")
    phone.context.set_offline(False)
    expect(told).to_have_count(0)
    wait_for_kept(phone, 0)
    assert entries_of(phone, paths[0]) == before + 1
    phone.get_by_role("link", name="All parts").first.click()
    phone.wait_for_url(f"**{paths[0]}contact/")


def test_in_a_network_that_leads_nowhere_a_link_leaves_the_part_in_view(
    phone: Page, paths: list[str]
) -> None:
    here = phone.url
    phone.route("**/*", lambda route: route.abort())
    phone.locator("#nose_free").get_by_role("button", name="No").first.click()
    wait_for_kept(phone, 1)
    phone.get_by_role("link", name="All parts").first.click()
    expect(phone.locator(".unsent")).to_contain_text("another page cannot be loaded now")
    assert phone.url == here
    phone.unroute("**/*")
    phone.get_by_role("link", name="All parts").first.click()
    phone.wait_for_url(f"**{paths[0]}contact/")


WITHOUT_NETWORK = "() => Object.defineProperty(navigator, 'onLine', { get: () => false })"


def test_a_device_in_no_network_that_runs_the_server_itself_goes_on(
    phone: Page, paths: list[str], address: str
) -> None:
    """A laptop with its radio off: the browser says that it is offline, and the server is there."""
    phone.evaluate(WITHOUT_NETWORK)
    phone.get_by_role("link", name="All parts").first.click()
    phone.wait_for_url(f"**{paths[0]}contact/")
    phone.goto(f"{address}{paths[0]}contact/latch/")
    phone.evaluate(WITHOUT_NETWORK)

    def sent(route: Route) -> None:
        """Takes what is posted and stores nothing: other tests answer the same part."""
        if route.request.method == "POST":
            route.fulfill(body="<h1>Sent</h1>", content_type="text/html")
        else:
            route.continue_()

    phone.route("**/*", sent)
    phone.get_by_role("button", name="I looked: as expected").click()
    expect(phone.get_by_role("heading", name="Sent")).to_be_visible()


def test_a_network_that_never_answers_is_given_up(phone: Page) -> None:
    here = phone.url
    phone.route("**/*", lambda route: None)
    phone.locator("#nose_free").get_by_role("button", name="Yes").first.click()
    wait_for_kept(phone, 1)
    phone.get_by_role("link", name="All parts").first.click()
    expect(phone.locator(".unsent")).to_contain_text("another page cannot be loaded now")
    assert phone.url == here


def test_what_waits_when_a_tab_is_closed_is_sent_by_the_next(
    phone: Page, paths: list[str], address: str
) -> None:
    before = entries_of(phone, paths[0])
    phone.context.set_offline(True)
    phone.locator("#nose_free").get_by_role("button", name="Yes").first.click()
    wait_for_kept(phone, 1)
    again = phone.context.new_page()
    close_offline(phone)
    again.context.set_offline(False)
    again.goto(f"{address}{paths[0]}contact/latch/")
    wait_for_kept(again, 0)
    again.wait_for_load_state()
    pressed = again.locator("#nose_free").get_by_role("button", name="Yes").first
    expect(pressed).to_have_attribute("aria-pressed", "true")
    assert entries_of(again, paths[0]) == before + 1


def test_its_pages_keep_the_rules_in_light_dark_and_narrow(
    visit: Visit, phone: Page, paths: list[str]
) -> None:
    contact = f"{paths[0]}contact/"
    # What is handed over stands on the page too.
    phone.goto(phone.url.replace("latch", "breast"))
    phone.locator("#lump").get_by_role("button", name="Gives like a grape").first.click()
    phone.locator("#redness").get_by_role("button").nth(1).click()
    wait_for_kept(phone, 0)
    phone.goto(phone.url.split("contact/")[0] + "contact/")
    expect(phone.locator(".hand-over").first).to_be_visible()
    found = {}
    for scheme in ("light", "dark"):
        page = visit(contact, viewport=NARROW, color_scheme=scheme)
        address = page.url.removesuffix(contact)
        for path in (contact, f"{contact}nipple/", f"{contact}breast/", f"{contact}mood/"):
            page.goto(f"{address}{path}")
            if faults := faults_of(page, *([CONTRAST] if scheme == "dark" else [])):
                found[f"{path} {scheme}"] = faults
    assert found == {}


def test_its_pages_are_whole_in_spanish_at_320_px(
    visit: Visit, phone: Page, paths: list[str], address: str
) -> None:
    del phone
    contact = f"{address}{paths[0]}contact/"
    page = visit(f"{paths[0]}contact/", viewport=NARROW)
    parts = page.locator(".parts a").evaluate_all("links => links.map(one => one.href)")
    assert len(parts) > 8, "the parts of a contact are somewhere else"
    use_language(page, address, "es")
    found = {}
    try:
        for path in (contact, *parts):
            page.goto(path)
            faults = beyond_the_edge(page)
            if page.locator("html").get_attribute("lang") != "es":
                faults.append("not in Spanish")
            if overflow(page) > 0:
                faults.append(f"{overflow(page)} px too wide")
            if path in (contact, *parts[:2]):
                faults += faults_of(page)
            if faults:
                found[path] = faults
    finally:
        use_language(page, address, "en")
    assert found == {}


def test_an_answer_is_given_by_the_keyboard(visit: Visit, paths: list[str], phone: Page) -> None:
    del phone
    page = visit(f"{paths[0]}contact/state/")
    page.locator("[data-answer] button").first.focus()
    page.keyboard.press("Enter")
    expect(page.locator("[data-answer] button").first).to_have_attribute("aria-pressed", "true")
    wait_for_kept(page, 0)


def test_what_does_not_fit_is_asked_about_on_the_spot_and_holds_nothing_up(
    visit: Visit, paths: list[str], phone: Page
) -> None:
    del phone
    page = visit(f"{paths[0]}contact/pain/")
    page.evaluate("document.documentElement.dataset.same = 'page'")
    never = page.locator("#pain_when").get_by_role("button", name="Never").first
    never.click()
    wait_for_kept(page, 0)
    end = page.locator("#pain_end")
    edge = page.locator("[data-follows] details")
    expect(edge).to_be_hidden()
    end.get_by_role("button", name=re.compile(r"^6\b")).first.click()
    expect(edge.get_by_role("listitem")).to_contain_text("never; but")
    expect(edge.get_by_role("listitem")).to_contain_text("correct the one that is wrong")
    page.locator("#pain_when").get_by_role("button", name="The whole feed").first.click()
    expect(edge).to_be_hidden()
    wait_for_kept(page, 0)
    # Neither question nor answer loaded the page again: nobody loses her place.
    assert page.evaluate("document.documentElement.dataset.same") == "page"
    never.click()
    expect(edge).to_be_visible()
    page.reload()
    expect(end.locator(".doubt")).to_contain_text("never; but")
    expect(page.locator("#pain_when .doubt")).to_contain_text("correct the one that is wrong")
    page.locator("#pain_when").get_by_role("button", name="The whole feed").first.click()
    expect(page.locator(".doubt:visible")).to_have_count(0)
    wait_for_kept(page, 0)


PLACES = """() => [...document.querySelectorAll("main button, main a, main input:not([type=hidden])")]
  .filter((one) => !one.closest("[data-follows]")).map((one) => Math.round(one.getBoundingClientRect().y))"""


def wakes_by_itself(page: Page) -> None:
    """The part of the infant's state as it is where nothing follows from it, whatever was answered before."""
    page.goto(page.url.replace("/latch/", "/state/"))
    easily = page.locator("#rousing").get_by_role("button", name="By itself")
    if easily.get_attribute("aria-pressed") != "true":
        easily.click()
        wait_for_kept(page, 0)
        page.reload()
    expect(easily).to_have_attribute("aria-pressed", "true")
    # What other tests of this file have flagged may stand there.
    expect(page.locator(".red-flags").filter(has_text="woken")).to_have_count(0)


def test_an_emergency_is_seen_at_once_and_moves_nothing(phone: Page) -> None:
    wakes_by_itself(phone)
    waking = phone.locator("#rousing")
    never = waking.get_by_role("button", name="Cannot be woken")
    never.evaluate("(one) => one.scrollIntoView({ block: 'center' })")
    expect(phone.get_by_role("button", name="The rest as expected")).to_be_in_viewport()
    before = phone.evaluate(PLACES)
    never.click()
    edge = phone.locator("[data-follows] details")
    said = edge.locator("li.red:visible")
    expect(said).to_contain_text("Cannot be woken")
    expect(said).to_contain_text("Emergency")
    expect(said).to_be_in_viewport(ratio=1)
    assert phone.evaluate(PLACES) == before
    # Who answers on has seen it: a line of it stays in view, and opens again.
    phone.locator("#mouth_moist").get_by_role("button", name="Moist").click()
    wait_for_kept(phone, 0)
    expect(said).to_be_hidden()
    line = edge.locator("summary")
    expect(line).to_be_in_viewport(ratio=1)
    expect(line).to_contain_text("Cannot be woken")
    expect(line).to_have_accessible_name(re.compile("What follows"))
    line.click()
    expect(said).to_be_in_viewport(ratio=1)
    # Loaded again, it stands on top and at its question; corrected, nothing follows.
    phone.reload()
    expect(waking.locator(".findings")).to_contain_text("Cannot be woken")
    expect(edge).to_be_hidden()
    waking.get_by_role("button", name="By itself").click()
    expect(waking.locator(".findings li")).to_be_hidden()
    wakes_by_itself(phone)


def test_what_to_ask_next_stands_at_the_edge_after_an_answer_and_moves_no_button(
    phone: Page,
) -> None:
    wakes_by_itself(phone)
    line = phone.locator("[data-ask-next]")
    woken = phone.locator("#wakes_for_feeds").get_by_role("button", name="Woken for every feed")
    woken.evaluate("(one) => one.scrollIntoView({ block: 'center' })")
    places = phone.locator(".bar .button:visible")
    before = [one.bounding_box() for one in places.all()]
    with phone.expect_response("**/answer/") as answered:
        woken.click()
    asked = unquote(answered.value.headers["x-ask-next"])
    wait_for_kept(phone, 0)
    expect(line).to_be_in_viewport(ratio=1)
    name, _, link = json.loads(asked)
    expect(line.locator("[data-name]")).to_have_text(name)
    expect(line).to_have_attribute("href", link)
    assert [one.bounding_box() for one in places.all()] == before
    phone.reload()
    expect(line.locator("[data-name]")).to_have_text(name)
    woken.click()
    wait_for_kept(phone, 0)


def test_without_a_network_what_follows_waits_for_the_server(
    phone: Page, device: BrowserContext
) -> None:
    wakes_by_itself(phone)
    device.set_offline(True)
    phone.locator("#rousing").get_by_role("button", name="Cannot be woken").click()
    expect(phone.locator("[data-sending]")).to_contain_text("what follows from it")
    device.set_offline(False)
    # Sent by itself, it is said by itself; nothing is loaded over it until the next answer.
    expect(phone.locator("[data-follows] li.red:visible")).to_contain_text("Cannot be woken")
    wakes_by_itself(phone)


PART = "**/contact/state/"


def test_what_could_not_be_asked_for_is_said_and_asked_for_again(phone: Page) -> None:
    wakes_by_itself(phone)
    phone.route(PART, lambda route: route.abort())
    phone.locator("#rousing").get_by_role("button", name="Cannot be woken").click()
    wait_for_kept(phone, 0)
    unknown = phone.locator("[data-unknown]")
    expect(unknown).to_be_visible()
    expect(unknown).to_contain_text("could not be asked yet")
    expect(phone.locator("[data-sending]")).to_be_hidden()
    phone.unroute(PART)
    phone.evaluate("dispatchEvent(new Event('online'))")
    expect(phone.locator("[data-follows] li.red:visible")).to_contain_text("Cannot be woken")
    expect(unknown).to_be_hidden()
    wakes_by_itself(phone)


def test_an_older_page_that_comes_late_takes_no_emergency_away(phone: Page) -> None:
    wakes_by_itself(phone)
    held: list[tuple[Route, APIResponse]] = []

    def hold(route: Route) -> None:
        if held:
            route.continue_()
        else:
            held.append((route, route.fetch()))

    phone.route(PART, hold)
    phone.evaluate("dispatchEvent(new CustomEvent('sent', { detail: [] }))")
    until(lambda: phone.wait_for_timeout(20) or held, bool)
    phone.locator("#rousing").get_by_role("button", name="Cannot be woken").click()
    said = phone.locator("[data-follows] li.red:visible")
    expect(said).to_contain_text("Cannot be woken")
    (route, calm), *_ = held
    with phone.expect_event("requestfinished", lambda one: one == route.request):
        route.fulfill(response=calm)
    phone.wait_for_timeout(200)
    expect(said).to_contain_text("Cannot be woken")
    phone.unroute(PART)
    wakes_by_itself(phone)


def test_on_paper_a_contact_says_a_time_once_and_has_nothing_to_press(
    phone: Page, paths: list[str], address: str
) -> None:
    phone.goto(f"{address}{paths[0]}contact/")
    started = phone.locator("main time").first
    expect(started.locator(".on-screen")).to_be_visible()
    phone.emulate_media(media="print")
    expect(started.locator(".on-paper")).to_be_visible()
    expect(phone.locator(".on-screen:visible")).to_have_count(0)
    expect(phone.locator("main button:visible, main .button:visible")).to_have_count(0)
