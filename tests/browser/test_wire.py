"""What a family's page weighs: every byte that the browser receives with nothing cached."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from browser.conftest import PHONE, Visit

KIB = 1024


def weighed(page: Page, address: str) -> dict[str, float]:
    """Bytes on the wire by address, headers included, as the browser counts them."""
    browser = page.context.new_cdp_session(page)
    browser.send("Network.enable")
    browser.send("Network.setCacheDisabled", {"cacheDisabled": True})
    names: dict[str, str] = {}
    sizes: dict[str, float] = {}

    def answered(event: dict) -> None:
        names[event["requestId"]] = event["response"]["url"]

    def received(event: dict) -> None:
        sizes[event["requestId"]] = event["encodedDataLength"]

    browser.on("Network.responseReceived", answered)
    browser.on("Network.loadingFinished", received)
    page.goto(address, wait_until="networkidle")
    return {names[one]: size for one, size in sizes.items() if one in names}


@pytest.mark.parametrize(
    ("name", "most_kib"),
    [("Chiamaka Delacroix", 150), ("Fionnuala Tanaka", 150), ("Marguerite Okoro-Santos", 220)],
    ids=["one infant", "a refused infant", "twins"],
)
def test_family_page_is_light_on_the_wire(visit: Visit, name: str, most_kib: int) -> None:
    page = visit("/?discharged=1&whole=1", viewport=PHONE)
    address = page.get_by_role("link", name=name).get_attribute("href")
    root = "/".join(page.url.split("/")[:3])
    sizes = weighed(page, f"{root}{address}")
    parts = ("/families/", "suffice.css", "chart.css", "chart.js", "htmx")
    assert all(any(part in one for one in sizes) for part in parts)
    assert sum(sizes.values()) <= most_kib * KIB, sizes


def test_the_module_of_the_chart_is_small(visit: Visit, family: str) -> None:
    page = visit(family)
    root = "/".join(page.url.split("/")[:3])
    sizes = weighed(page, f"{root}{family}")
    assert sum(size for one, size in sizes.items() if one.endswith("chart.js")) < 8 * KIB
