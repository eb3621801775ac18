"""A browser that hangs is ended, and the next test has another."""

from __future__ import annotations

import pytest
from playwright.sync_api import Error

from browser.watched import Browsers


def test_a_page_that_never_answers_fails_its_test_and_the_next_has_a_browser(
    browsers: Browsers,
) -> None:
    first = browsers.living()
    page = first.new_context().new_page()
    with browsers.watched(hangs_after_s=0.5), pytest.raises(Error, match="closed"):
        page.evaluate("() => { for (;;); }")
    second = browsers.living()
    assert second is not first
    context = second.new_context()
    assert context.new_page().evaluate("6 * 7") == 42
    context.close()
    assert browsers.living() is second
