"""A person signs in and saves an entry through a proxy with HTTPS, set up as the deployment page says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Response

from browser.conftest import PHONE
from browser.watched import Browsers
from tls_proxy import in_front_of
from tool_modules import tool_module

server = tool_module("attack.server")

HSTS_S = "31536000"


@pytest.fixture(scope="module")
def behind(
    browsers: Browsers, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, Any]]:
    """The address that browsers see, and the server behind it."""
    del browsers  # without one there is no need for a server
    folder = tmp_path_factory.mktemp("proxy")
    settings = {
        "SUFFICE_HTTPS": "1",
        "SUFFICE_HSTS_S": HSTS_S,
        "SUFFICE_HOSTS": "localhost",
        "SUFFICE_PROXIES": "127.0.0.1",
    }
    with (
        server.running("--demo", "--workers", "1", home=folder, settings=settings) as running,
        in_front_of(running.port, folder) as port,
    ):
        yield f"https://localhost:{port}", running


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context(viewport=PHONE, ignore_https_errors=True)  # type: ignore[arg-type]
    yield context.new_page()
    context.close()


def signed_in(page: Page, address: str) -> Response:
    """The answer to signing in."""
    page.goto(f"{address}/sign-in/")
    page.get_by_label("Name").fill(server.USER)
    page.get_by_label("Passphrase").fill(server.PASSPHRASE)
    with page.expect_response(lambda one: one.request.method == "POST") as answer:
        page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(f"{address}/**")
    return answer.value


def test_a_person_signs_in_through_the_proxy_and_the_browser_keeps_to_https(
    page: Page, behind: tuple[str, Any]
) -> None:
    address, _ = behind
    answer = signed_in(page, address)
    assert answer.status == 302
    assert answer.headers["strict-transport-security"] == f"max-age={HSTS_S}"
    page.locator(".caseload .name a").first.wait_for()
    kept = {one["name"]: one for one in page.context.cookies()}
    for name in ("__Host-session", "__Host-csrf"):
        assert (kept[name]["secure"], kept[name]["path"]) == (True, "/")
        assert kept[name]["sameSite"] == "Strict"
    assert kept["__Host-session"]["httpOnly"]


def test_an_entry_is_saved_through_the_proxy(page: Page, behind: tuple[str, Any]) -> None:
    address, _ = behind
    signed_in(page, address)
    family = page.locator(".caseload .name a").first.get_attribute("href") or ""
    path = re.sub(r"\?.*", "", family)
    page.goto(f"{address}{path}enter/note/")
    page.locator("[name=text]").fill("Saved behind the proxy")
    with page.expect_navigation():
        page.locator("main button[type=submit]").first.click()
    page.goto(f"{address}{path}entries/")
    assert page.get_by_text("Saved behind the proxy").count() > 0


def test_header_spelt_with_underscores_is_not_taken_for_the_proxys(behind: tuple[str, Any]) -> None:
    wire = tool_module("attack.wire")
    _, running = behind
    session = wire.Session(running.port)
    hyphens = session.get("/sign-in/", {"X-Forwarded-Proto": "https"})
    assert "strict-transport-security" in hyphens.headers
    underscores = session.get("/sign-in/", {"X_Forwarded_Proto": "https"})
    assert "strict-transport-security" not in underscores.headers
    session.close()
