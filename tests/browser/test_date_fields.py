"""Dates and times in the clinic's order: typed with digits, said in words, sent and kept without doubt."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import PHONE, Visit
from browser.hand import open_family_unseen
from browser.test_every_page import NARROW, faults_of, overflow, small_targets
from suffice.errors import InputError
from suffice.exchange.local_time import local_time, written
from suffice.knowledge.policy import DateOrder

ORDERS: tuple[DateOrder, ...] = ("day first", "month first", "year first")
READ = """async ([texts, orders]) => {
  const { read } = await import(document.querySelector("script[src*=moments]").src);
  return orders.map((order) => texts.map((text) => read(text, order, true))); }"""
KEPT = "() => Object.entries(localStorage).filter(([one]) => one.startsWith('suffice:unsent:'))"
CHOSEN = """() => { const on = document.activeElement;
                    return on.value.slice(on.selectionStart, on.selectionEnd); }"""
TYPED = (
    *("03/04/2026 14:30", "04/03/2026 14:30", "2026-04-03 14:30", "2026-04-03T14:30:15.250"),
    *("030420261430", "202604031430", "20260403 1430", "3.4.2026, 9:05", "25/03/2026 14:30"),
    *(
        "03/25/2026 14:30",
        "31/02/2026 10:00",
        "02/31/2026 10:00",
        "29/02/2025 10:00",
        "03/04/26 14:30",
    ),
    *("03/04/2026 24:00", "03/04/2026", "14:30", "1430", "03-04/2026 14:30", "tomorrow", ""),
)


def use_order(page: Page, address: str, order: str) -> None:
    page.goto(f"{address}/policy/")
    page.locator(f"input[name=date_order][value='{order}']").check(force=True)
    page.locator("main form button[type=submit]").click()
    expect(page.locator(".messages")).to_be_visible()


@pytest.fixture
def month_first(visit: Visit, address: str) -> Iterator[Page]:
    """A phone of a clinic that writes the month first."""
    page = visit("/", is_new_session=True, viewport=PHONE, has_touch=True)
    use_order(page, address, "month first")
    yield page
    page.goto(f"{address}/policy/")
    page.evaluate("localStorage.clear()")
    use_order(page, address, "day first")


def test_the_page_reads_what_the_server_reads_and_nothing_otherwise(visit: Visit) -> None:
    """Where the page reads a time the server reads the same one; what it leaves the server may read."""
    page = visit("/bench/")
    seen = 0
    found: list[list[str]] = page.evaluate(READ, [TYPED, ORDERS])
    for order, all_read in zip(ORDERS, found, strict=True):
        for text, read in zip(TYPED, all_read, strict=True):
            if read:
                seen += 1
                assert datetime.fromisoformat(read) == local_time(text, order), (text, order)
                assert local_time(read, order) == local_time(text, order)
            elif re.fullmatch(r"[\d/ :-]+", text) and not re.match(r"\d{8} ", text):
                with pytest.raises(InputError):
                    local_time(text, order)
    assert seen >= len(ORDERS) * 3


def test_a_time_is_changed_with_a_tap_and_four_digits_and_said_in_words(
    visit: Visit, address: str
) -> None:
    page = visit("/", is_new_session=True, viewport=PHONE, has_touch=True)
    path = open_family_unseen(page, address, "Order Testcase")
    page.goto(f"{address}{path}enter/weight/")
    page.locator("#id_weight").fill("3120")
    page.locator("[data-moment] summary").tap()
    field = page.locator("#id_when")
    expect(field).to_have_attribute("inputmode", "numeric")
    box = field.bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + 132, box["y"] + 20)
    assert page.evaluate(CHOSEN) == field.input_value()[-5:]
    page.keyboard.type("0005")
    said = page.locator("#id_when_said")
    expect(said).to_have_text(re.compile(r"^\w{3} \d{1,2} \w{3} \d{4}, 00:05$"))
    expect(page.locator("[data-now]")).to_have_text(said.inner_text())
    page.keyboard.press("Tab")
    expect(field).to_have_value(re.compile(r"^\d\d/\d\d/\d{4} 00:05$"))
    (kept,) = page.evaluate(KEPT)
    assert re.search(r'\["when","\d{4}-\d\d-\d\dT00:05"\]', kept[1])
    page.evaluate("localStorage.clear()")


def test_the_devices_own_calendar_is_one_press_away(visit: Visit) -> None:
    page = visit("/bench/", viewport=PHONE)
    born = page.locator(".local").first
    expect(born.locator("output")).to_have_text("")
    born.get_by_role("button", name="Calendar").click()
    native = born.locator(".native")
    expect(native).to_have_attribute("type", "datetime-local")
    native.evaluate(
        "one => { one.value = '2026-04-03T09:05'; one.dispatchEvent(new Event('input', {bubbles: true})); }"
    )
    expect(page.locator("#id_born")).to_have_value("03/04/2026 09:05")
    expect(born.locator("output")).to_have_text("Fri 3 Apr 2026, 09:05")
    assert page.evaluate("new FormData(document.querySelector('main form')).get('born')") == (
        "03/04/2026 09:05"
    )


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_clinic_that_writes_the_month_first_types_and_reads_it_so(
    month_first: Page, address: str, scheme: Any
) -> None:
    page = month_first
    page.emulate_media(color_scheme=scheme)
    path = open_family_unseen(page, address, "Month Testcase", days=20)
    page.goto(f"{address}{path}enter/weight/")
    page.locator("#id_weight").fill("3420")
    page.get_by_text("Naked", exact=True).click()
    page.locator("[data-moment] summary").click()
    weighed = datetime.now(UTC) - timedelta(days=9)
    digits = f"{weighed:%m%d%Y}0905"
    page.locator("#id_when").fill("")
    page.locator("#id_when").press_sequentially(digits)
    expect(page.locator("#id_when_said")).to_have_text(
        f"{weighed:%a} {weighed:%b} {weighed.day}, {weighed.year}, 09:05"
    )
    page.set_viewport_size(NARROW)  # type: ignore[arg-type]
    assert [*faults_of(page), *small_targets(page)] == []
    assert overflow(page) <= 0
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_url(re.compile(f"{path}$"))
    expect(page.locator(".messages")).to_contain_text("3420 g")
    page.locator(".messages").get_by_role("link", name="Correct").click()
    expect(page.locator("#id_when")).to_have_value(f"{weighed:%m/%d/%Y} 09:05")


def test_a_draft_that_was_typed_in_one_order_comes_back_as_the_same_time_in_another(
    month_first: Page, address: str
) -> None:
    page = month_first
    path = open_family_unseen(page, address, "Draft Testcase", days=20)
    form = f"{address}{path}enter/note/"
    page.goto(form)
    page.locator("textarea").fill("typed before the order changed")
    page.locator("[data-moment] summary").click()
    page.locator("#id_when").fill("03/04/2026 10:15")
    use_order(page, address, "day first")
    page.goto(form)
    expect(page.locator("textarea")).to_have_value("typed before the order changed")
    expect(page.locator("#id_when")).to_have_value("04/03/2026 10:15")
    expect(page.locator("[data-now]")).to_have_text("Wed 4 Mar 2026, 10:15")


def test_without_scripts_a_time_is_typed_in_the_clinics_order(visit: Visit) -> None:
    page = visit("/bench/", java_script_enabled=False, viewport=PHONE)
    expect(page.get_by_role("button", name="Calendar").first).to_be_hidden()
    born = datetime.now(UTC) - timedelta(days=4)
    page.get_by_label("Born at").fill(f"{born:%d%m%Y%H%M}")
    page.locator("#id_birth_weight").fill("3400")
    page.locator("#id_weight_1").fill("3000")
    page.locator("#id_weighed_1").fill(
        written(datetime.now(UTC).replace(tzinfo=None, microsecond=0), "day first")
    )
    page.get_by_role("button", name="Calculate").click()
    expect(page.get_by_text("Red flags").first).to_be_visible()
    expect(page.locator("output").first).to_have_text(
        re.compile(f"{born.day} {born:%b %Y}, {born:%H:%M}")
    )
    page.get_by_label("Born at").fill("31/31/2026 10:00")
    page.get_by_role("button", name="Calculate").click()
    expect(page.locator("#id_born_error")).to_contain_text(
        "Write it like 25/11/2026 14:30. (CLOCK-001)"
    )
