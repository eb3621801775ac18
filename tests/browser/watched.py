"""A browser that is ended when it hangs, and started anew when it is gone.

Most that Playwright asks of a browser has a time-out. What a page computes and the closing of a tab have none:
a tab that is closed while the next page is on its way may never close. Without an end of its own such a test
waits until all that this process was still to test is lost with it.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

import psutil
from playwright.sync_api import Browser, Playwright

HANGS_AFTER_S = 150.0
"""Five times what any single wait of a test may take, and half of what a test may take in all."""


class Browsers:
    """The one browser of this process, and its successors."""

    def __init__(self, playwright: Playwright, program: str, options: list[str]) -> None:
        self._playwright = playwright
        self._program = program
        self._options = options
        self._browser: Browser | None = None

    def living(self) -> Browser:
        """The browser that runs; another where it has ended."""
        if self._browser is None or not self._browser.is_connected():
            self._browser = self._playwright.chromium.launch(
                executable_path=self._program, args=self._options
            )
        return self._browser

    @contextmanager
    def watched(self, hangs_after_s: float = HANGS_AFTER_S) -> Iterator[None]:
        """End the browser if what is done meanwhile has not ended by then: what waits for it then fails."""
        timer = threading.Timer(hangs_after_s, _end_all)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()

    def close(self) -> None:
        if self._browser is not None:
            self._browser.close()


def _end_all() -> None:
    """End every browser that this process has started, and what they have started themselves."""
    for one in psutil.Process().children(recursive=True):
        try:
            if any("--remote-debugging-pipe" in word for word in one.cmdline()):
                one.kill()
        except psutil.NoSuchProcess:
            continue
