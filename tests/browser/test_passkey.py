"""A passkey is added, named, used to sign in with and after a passphrase, and removed: a device of Chromium's own."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.conftest import PHONE, add_user, environment_of
from browser.sessions import HOMES, PASSPHRASE

pytestmark = pytest.mark.browser


WHO = "with-a-passkey"
"""A person of this file's own: a passkey that is removed ends the other sessions of its owner."""


@pytest.fixture(scope="module")
def there(address: str) -> str:
    """The address of the server, with the person of this file."""
    add_user(environment_of(HOMES[address]), WHO)
    return address


@pytest.fixture
def screen(chromium: Browser, there: str) -> Iterator[Page]:
    """A phone with an authenticator that always verifies its owner; passkeys need a name, no number."""
    context = chromium.new_context(viewport=PHONE, base_url=there.replace("127.0.0.1", "localhost"))
    page = context.new_page()
    device = context.new_cdp_session(page)
    device.send("WebAuthn.enable")
    options = {"protocol": "ctap2", "transport": "internal", "hasResidentKey": True}
    options |= {"hasUserVerification": True, "isUserVerified": True}
    options |= {"automaticPresenceSimulation": True}
    made = device.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    page.device, page.device_id = device, made["authenticatorId"]  # type: ignore[attr-defined]
    yield page
    context.close()


def with_passphrase(page: Page) -> None:
    page.goto("/sign-in/")
    page.get_by_label("Name").fill(WHO)
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Sign in", exact=True).click()


def sign_out(page: Page) -> None:
    page.locator("form[data-sign-out]").evaluate("form => form.requestSubmit()")
    page.wait_for_url("**/sign-in/**")


def arrived(page: Page) -> None:
    expect(page.locator("#list-name")).to_be_visible()


def unverified(page: Page, *, verified: bool) -> None:
    page.device.send(  # type: ignore[attr-defined]
        "WebAuthn.setUserVerified",
        {"authenticatorId": page.device_id, "isUserVerified": verified},  # type: ignore[attr-defined]
    )


def test_from_adding_a_passkey_to_removing_it(screen: Page) -> None:
    with_passphrase(screen)
    arrived(screen)
    screen.goto("/account/passkeys/")
    add = screen.locator("form[data-passkey=add]")
    add.get_by_label("Name of the passkey").fill("my phone")
    add.get_by_label("Current passphrase").fill(PASSPHRASE)
    add.get_by_role("button").click()
    expect(screen.locator(".messages")).to_contain_text("The passkey is added")
    expect(screen.locator("form:has([name=key]) input[name=called]")).to_have_value("my phone")

    sign_out(screen)
    screen.get_by_role("button", name="Sign in with a passkey").click()
    arrived(screen)

    # The passphrase alone signs in no more.
    sign_out(screen)
    with_passphrase(screen)
    screen.wait_for_url("**/sign-in/code/")
    expect(screen.get_by_role("heading", name="Your passkey")).to_be_visible()
    screen.goto("/")
    assert "/sign-in/" in screen.url
    with_passphrase(screen)
    screen.get_by_role("button", name="Sign in with a passkey").click()
    arrived(screen)

    # A device that has not made sure who holds it gives no key.
    sign_out(screen)
    unverified(screen, verified=False)
    screen.get_by_role("button", name="Sign in with a passkey").click()
    expect(screen.locator("[data-failed]")).to_be_visible()
    unverified(screen, verified=True)
    screen.get_by_role("button", name="Sign in with a passkey").click()
    arrived(screen)

    screen.goto("/account/passkeys/")
    kept = screen.locator("form:has([name=key])")
    kept.get_by_label("Name of the passkey").fill("old phone")
    kept.get_by_role("button", name="Save the name").click()
    expect(screen.locator("form:has([name=key]) input[name=called]")).to_have_value("old phone")
    screen.locator("form:has([name=key])").get_by_role("button", name="Remove").click()
    screen.get_by_label("Current passphrase").fill(PASSPHRASE)
    screen.get_by_role("button", name="Remove the passkey").click()
    expect(screen.locator(".messages")).to_contain_text("The passkey is removed")
    sign_out(screen)
    screen.get_by_role("button", name="Sign in with a passkey").click()
    expect(screen.get_by_text("USER-013")).to_be_visible()
    with_passphrase(screen)
    arrived(screen)
