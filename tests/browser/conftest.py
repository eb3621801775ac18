"""A headless Chromium, and the real server with the demo caseload, each brought up once.

The server runs as a process of its own with a home folder of its own: what a browser does here
meets what a clinic runs, and no other test sees it. Skips with a clear word only where there is no
Chromium: everything else must work.
"""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from functools import wraps
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.request import Request, urlopen

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Keyboard,
    Locator,
    Page,
    expect,
    sync_playwright,
)

from browser.sessions import HOMES, PASSPHRASE, sign_in_unseen
from browser.watched import Browsers
from patience import until
from suffice.knowledge.policy import Policy
from tool_modules import tool_module

CHROMIUM = tool_module("setup").find_browser()
QUIET = (
    "--disable-background-networking",
    "--disable-quic",
    "--no-first-run",
    "--disable-component-update",
    "--disable-sync",
    "--disable-gpu",
)


def _once_loaded(method: Callable[..., Any]) -> Callable[..., Any]:
    """A hand that is never quicker than a page's scripts, however busy the machine is."""

    @wraps(method)
    def patient(on: Locator, *args: object, **options: object) -> object:
        on.page.wait_for_load_state("load")
        return method(on, *args, **options)

    return patient


def _once_known(set_offline: Callable[..., None]) -> Callable[..., None]:
    """A connection that goes when the pages have loaded, and whose end they know of."""

    @wraps(set_offline)
    def patient(device: BrowserContext, offline: bool) -> None:
        for page in device.pages:
            page.wait_for_load_state("load")
        set_offline(device, offline)
        for page in device.pages:
            page.wait_for_function("is => navigator.onLine === is", arg=not offline)

    return patient


def _once_arrived(route: Callable[..., None]) -> Callable[..., None]:
    """A network that goes bad when the page has come through it whole, its scripts included."""

    @wraps(route)
    def patient(page: Page, *args: object, **options: object) -> None:
        page.wait_for_load_state("load")
        route(page, *args, **options)

    return patient


def _keyboard_once_loaded(page: Page) -> Keyboard:
    """The keys of a page whose scripts listen: its heading stands on the screen before they do."""
    page.wait_for_load_state("load")
    return _keyboard_of(page)


# Before its scripts have run a page is one of plain forms, which cost other loads and keep nothing.
for _name in (
    "click",
    "dblclick",
    "tap",
    "fill",
    "check",
    "press",
    "set_input_files",
    "select_option",
):
    setattr(Locator, _name, _once_loaded(getattr(Locator, _name)))
BrowserContext.set_offline = _once_known(BrowserContext.set_offline)  # type: ignore[method-assign]
Page.route = _once_arrived(Page.route)  # type: ignore[method-assign]
_keyboard_of: Callable[[Page], Keyboard] = Page.keyboard.fget  # type: ignore[attr-defined]
Page.keyboard = property(_keyboard_once_loaded)  # type: ignore[assignment,method-assign]

# A machine on which several browsers run at once is slow; what never comes still fails.
expect.set_options(timeout=30_000)
# A browser is a large program of others, which now and then hangs or dies of itself. What fails in it is asked
# once more and told at the end; what is wrong in a page fails twice, and no more than a few may need it in one run.
ASKED_TWICE = pytest.mark.flaky(reruns=1)
IDLE = timedelta(minutes=Policy(zone="UTC").idle_min)
"""After so long without use a session is locked."""
PHONE = {"width": 390, "height": 844}
LAPTOP = {"width": 1366, "height": 900}
Visit = Callable[..., Page]
Arrive = Callable[[str], Page]
UNSENT = "() => Object.keys(localStorage).filter((one) => one.startsWith('suffice:unsent:'))"
"""Asks a page for the keys of the unsent forms that the device keeps."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "/browser/" in str(item.path):
            item.add_marker(pytest.mark.browser)
            item.add_marker(ASKED_TWICE)


COMMAND = (sys.executable, "-m", "suffice.cli")


@pytest.fixture(scope="session")
def browsers() -> Iterator[Browsers]:
    if os.environ.get("SUFFICE_WITHOUT_BROWSER") == "1":
        pytest.skip("left out: SUFFICE_WITHOUT_BROWSER is 1")
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine: install the system's package 'chromium'")
    root = ["--no-sandbox"] if os.geteuid() == 0 else []
    # Playwright leaves an event loop in this thread in which nothing runs while a test does. Django would
    # refuse the database to each test that this process runs later.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    with sync_playwright() as playwright:
        started = Browsers(playwright, CHROMIUM, [*QUIET, *root])
        yield started
        started.close()


@pytest.fixture
def chromium(browsers: Browsers) -> Iterator[Browser]:
    """A browser that answers. One that hangs is ended, which fails the test that waits for it, and only that."""
    with browsers.watched():
        yield browsers.living()


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory, browsers: Browsers) -> Iterator[str]:
    """The address of a server that shows the invented caseload."""
    del browsers  # without one there is no need for a server
    with served(environment_of(tmp_path_factory.mktemp("home")), "--demo") as there:
        yield there


def environment_of(home: Path) -> dict[str, str]:
    """The environment of a program whose record is in a folder."""
    outside = {k: v for k, v in os.environ.items() if k != "DATABASE_URL"}
    return outside | {"SUFFICE_HOME": str(home)}


def add_user(environment: dict[str, str], name: str, *options: str) -> None:
    """Let one more person sign in, with the passphrase of all."""
    subprocess.run(
        [*COMMAND, "user", "add", name, *options],
        input=PASSPHRASE,
        text=True,
        env=environment,
        check=True,
        capture_output=True,
    )


@contextmanager
def served(environment: dict[str, str], *options: str) -> Iterator[str]:
    """The address of a server of its own, in which a consultant can sign in."""
    add_user(environment, "consultant", "--admin")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://localhost:{port}"
    server = subprocess.Popen(
        [*COMMAND, "serve", *options, "--workers", "1", "--port", str(port)],
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    try:
        _wait_for(f"{address}/sign-in/", server)
        HOMES[address] = Path(environment["SUFFICE_HOME"])
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)


def _wait_for(address: str, server: subprocess.Popen[bytes]) -> None:
    def answers() -> bool:
        try:
            urlopen(address).close()
        except (URLError, ConnectionError):
            return False
        return True

    until(answers, lambda is_there: is_there or server.poll() is not None)
    if server.poll() is not None:
        said = server.stdout.read().decode() if server.stdout else ""
        raise AssertionError(f"the server did not answer: {said}")


@pytest.fixture(scope="session")
def sign_in_anew(browsers: Browsers, address: str) -> Callable[[], dict[str, object]]:
    """Gives the cookies of a consultant who has signed in, and signs in again before the session locks itself.

    On a slow machine more time than that may lie between two tests that ask for them.
    """
    kept: dict[str, object] = {}
    used_at = datetime.min.replace(tzinfo=UTC)

    def cookies() -> dict[str, object]:
        nonlocal used_at
        if datetime.now(UTC) - used_at > IDLE / 2:
            context = browsers.living().new_context()
            sign_in(context.new_page(), address)
            kept["cookies"] = context.storage_state()["cookies"]
            context.close()
        used_at = datetime.now(UTC)
        return {"cookies": kept["cookies"], "origins": []}

    return cookies


@pytest.fixture
def signed_in(sign_in_anew: Callable[[], dict[str, object]]) -> dict[str, object]:
    """The cookies of a consultant who has signed in: each window starts with them."""
    return sign_in_anew()


@pytest.fixture(scope="module")
def paths() -> list[str]:
    """The paths of the families of a file's own, kept from one test of it to the next."""
    return []


@pytest.fixture
def arrive(device: BrowserContext, address: str) -> Arrive:
    """Open a page in a new tab of the device."""

    def in_new_tab(path: str) -> Page:
        page = device.new_page()
        page.goto(f"{address}{path}")
        return page

    return in_new_tab


@pytest.fixture
def visit(chromium: Browser, address: str, signed_in: dict[str, object]) -> Iterator[Visit]:
    """Open a browser window in which the consultant has signed in; complaints of pages fail.

    All windows share one session, which remembers what was entered last; `is_new_session` signs in again.
    """
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def open_window(path: str = "/", *, is_new_session: bool = False, **options: object) -> Page:
        usual = {"viewport": LAPTOP} | ({} if is_new_session else {"storage_state": signed_in})
        context = chromium.new_context(**(usual | options))  # type: ignore[arg-type]
        contexts.append(context)
        page = context.new_page()
        page.on(
            "console",
            lambda said: (
                complaints.append(said.text) if said.type in {"error", "warning"} else None
            ),
        )
        page.on("pageerror", lambda error: complaints.append(str(error)))
        if is_new_session:
            sign_in_unseen(context, address)
        page.goto(f"{address}{path}")
        return page

    yield open_window
    for context in contexts:
        context.close()
    assert complaints == []


def sign_in(page: Page, address: str, name: str = "consultant") -> None:
    """Sign in, and wait for the page that follows: a tab closed before it came may never close."""
    page.goto(f"{address}/sign-in/")
    fill_in_sign_in(page, name)
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    page.wait_for_load_state()


def fill_in_sign_in(page: Page, name: str = "consultant") -> None:
    page.get_by_label("Name").fill(name)
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Sign in", exact=True).click()


@pytest.fixture
def device(chromium: Browser, address: str) -> Iterator[BrowserContext]:
    """A phone on which the consultant has signed in; a script that fails fails the test."""
    context = chromium.new_context(viewport=PHONE)  # type: ignore[arg-type]
    failed: list[str] = []
    context.on("weberror", lambda one: failed.append(str(one.error)))
    sign_in_unseen(context, address)
    yield context
    context.close()
    assert failed == []


@pytest.fixture
def family(address: str, signed_in: dict[str, Any]) -> str:
    """The path of the most urgent family; a window opened to read it would cost as much as most tests."""
    cookies = "; ".join(f"{one['name']}={one['value']}" for one in signed_in["cookies"])
    with urlopen(Request(f"{address}/", headers={"Cookie": cookies})) as answer:
        page = answer.read().decode()
    path = re.search(
        r'<th scope="row" class="name">.*?href="(/families/[0-9a-f-]{36}/)"', page, re.DOTALL
    )
    assert path
    return path[1]


def close_offline(page: Page) -> None:
    """Close a tab that has no connection.

    A browser may give a page its connection back while it closes it, which no device does. The page is
    kept from hearing of it where that can be done; a test does not rest on it.
    """
    page.evaluate("addEventListener('online', (event) => event.stopImmediatePropagation(), true)")
    page.close()


def entries_of(page: Page, family: str) -> int:
    """How many entries a family has on the record, as its export says."""
    address = page.url.split("/", 3)
    answer = page.request.get(f"{address[0]}//{address[2]}{family}export/")
    found = json.loads(answer.body())
    return len(found["record"]["entries"] if "record" in found else found["entries"])
