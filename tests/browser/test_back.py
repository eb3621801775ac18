"""After signing out, going back in the browser shows nothing of a family."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page

Visit = Callable[..., Page]


def test_going_back_after_signing_out_shows_no_family(visit: Visit) -> None:
    page = visit("/", is_new_session=True)
    row = page.locator("table.caseload a[href^='/families/']").first
    name = row.inner_text()
    row.click()
    page.wait_for_selector("h1")
    assert page.locator("h1").inner_text() == name
    page.locator("form[data-sign-out]").evaluate("(form) => form.requestSubmit()")
    page.wait_for_url("**/sign-in/**")
    for _ in range(2):
        page.go_back()
        page.wait_for_url("**/sign-in/**")
        assert name not in page.locator("body").inner_text()
