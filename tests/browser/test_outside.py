"""Signing in with an account elsewhere in a real browser, at a provider that others keep and many run."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

import hospital_provider as hospital
from browser.conftest import PHONE, served
from browser.sessions import PASSPHRASE

pytestmark = pytest.mark.browser


@pytest.fixture
def clinic(tmp_path: Path, chromium: Browser) -> Iterator[str]:
    """A server of its own that knows the provider: to a browser `localhost` and `127.0.0.1` are two sites."""
    del chromium  # without one there is no need for a server
    there, home = tmp_path / "hospital", tmp_path / "home"
    there.mkdir()
    home.mkdir()
    environment = {k: v for k, v in os.environ.items() if k != "DATABASE_URL"}
    with hospital.started(there) as provider:
        environment |= {
            "SUFFICE_HOME": str(home),
            "SUFFICE_OIDC_ISSUER": provider.issuer,
            "SUFFICE_OIDC_CLIENT": hospital.CLIENT,
            "SUFFICE_OIDC_SECRET": hospital.SECRET,
            "SUFFICE_OIDC_NAME": "the hospital",
        }
        with served(environment) as address:
            provider.register(address)
            yield address


def enter_at_hospital(page: Page) -> None:
    """Say who one is on the provider's own page, and allow what the program asks for."""
    expect(page.get_by_role("heading", name="Hospital sign-in")).to_be_visible()
    page.get_by_label("Username").fill(hospital.PERSON)
    page.get_by_label("Password").fill(hospital.PASSPHRASE)
    page.get_by_role("button", name="Enter").click()
    page.get_by_role("button", name="Authorize").click()


def test_an_administrator_links_an_account_and_its_person_signs_in_with_it(
    clinic: str, chromium: Browser
) -> None:
    context = chromium.new_context(viewport=PHONE, base_url=clinic)
    page = context.new_page()
    page.goto("/sign-in/")
    page.get_by_role("link", name="Sign in with the hospital").click()
    enter_at_hospital(page)
    expect(page.get_by_text("USER-016")).to_be_visible()
    page.get_by_label("Name").fill("consultant")
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.locator("form[data-sign-out]")).to_be_attached()
    page.goto("/users/consultant/")
    page.get_by_label("Subject or e-mail address at the provider").fill(hospital.ADDRESS)
    page.get_by_label("Current passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Link", exact=True).click()
    expect(page.locator(".messages")).to_contain_text("Saved.")
    context.clear_cookies()
    page.goto("/sign-in/?next=/library/")
    page.get_by_role("link", name="Sign in with the hospital").click()
    enter_at_hospital(page)
    page.wait_for_url("**/library/")
    assert all(one["sameSite"] == "Strict" for one in context.cookies(clinic))
    # Where an owner must be shown to sit there the provider asks again, though it knows the browser.
    page.goto("/sign-in/outside/?anew=1&next=/library/")
    enter_at_hospital(page)
    page.wait_for_url("**/library/")
    # Signing out ends the session at the provider too, and leads back here: the next one has to say who it is.
    page.locator("form[data-sign-out]").evaluate("form => form.requestSubmit()")
    page.wait_for_url("**/sign-in/")
    page.goto("/library/")
    page.wait_for_url("**/sign-in/?next=/library/")
    page.get_by_role("link", name="Sign in with the hospital").click()
    expect(page.get_by_role("heading", name="Hospital sign-in")).to_be_visible()
    context.close()
