"""Signing in with an account elsewhere in a real browser: cookies stay strict, and the way back works."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from browser.conftest import PHONE, served
from browser.sessions import PASSPHRASE
from identity_provider import CLIENT, SECRET, Started, started

pytestmark = pytest.mark.browser


@pytest.fixture
def provider() -> Iterator[Started]:
    with started() as running:
        yield running


@pytest.fixture
def clinic(tmp_path: Path, provider: Started, chromium: Browser) -> Iterator[str]:
    """A server of its own that knows the provider: to a browser `localhost` and `127.0.0.1` are two sites."""
    del chromium  # without one there is no need for a server
    environment = {k: v for k, v in os.environ.items() if k != "DATABASE_URL"}
    environment |= {
        "SUFFICE_HOME": str(tmp_path),
        "SUFFICE_OIDC_ISSUER": provider.issuer,
        "SUFFICE_OIDC_CLIENT": CLIENT,
        "SUFFICE_OIDC_SECRET": SECRET,
        "SUFFICE_OIDC_NAME": "the hospital",
    }
    with served(environment) as there:
        yield there


def test_an_administrator_links_an_account_and_its_person_signs_in_with_it(
    clinic: str, provider: Started, chromium: Browser
) -> None:
    context = chromium.new_context(viewport=PHONE, base_url=clinic)
    page = context.new_page()
    page.goto("/sign-in/")
    page.get_by_role("link", name="Sign in with the hospital").click()
    expect(page.get_by_text("USER-016")).to_be_visible()
    page.get_by_label("Name").fill("consultant")
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.locator("form[data-sign-out]")).to_be_attached()
    page.goto("/users/consultant/")
    page.get_by_label("Subject or e-mail address at the provider").fill("subject-1")
    page.get_by_label("Current passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Link", exact=True).click()
    expect(page.locator(".messages")).to_contain_text("Saved.")
    context.clear_cookies()
    page.goto("/sign-in/?next=/library/")
    page.get_by_role("link", name="Sign in with the hospital").click()
    page.wait_for_url("**/library/")
    assert all(one["sameSite"] == "Strict" for one in context.cookies(clinic))
    # Signing out ends the session at the provider too, and leads back here.
    page.locator("form[data-sign-out]").evaluate("form => form.requestSubmit()")
    page.wait_for_url("**/sign-in/")
    assert provider.control() == ["subject-1"]
    page.goto("/library/")
    page.wait_for_url("**/sign-in/?next=/library/")
    context.close()
