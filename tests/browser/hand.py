"""A hand on a phone: what it presses, types and waits for is counted as docs/usability.md says."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlsplit

from playwright.sync_api import Locator, Page, Request, expect

USABILITY = Path(__file__).resolve().parents[2] / "docs" / "usability.md"
TO_BE_COUNTED = "to be counted"
ROW = re.compile(r"^\| (?P<task>[^|]+) \| (?P<target>[^|]+) \| (?P<now>[^|]+) \|", re.MULTILINE)
HIDDEN = re.compile(r'<input type="hidden" name="([^"]+)" value="([^"]*)"')
SAVE = "Save"
SLOW_GAIN = "a slow-gain visit, from 'Start a contact' to named problems and what to teach"
PAPERS = (
    "from the last finding of a contact to the plan kept, the note signed, the plan and a letter"
    " ready to print"
)
S_PER_TAP, S_PER_KEY, S_PER_LOAD = 2.5, 0.5, 1.5
"""The time model of docs/usability.md: find and press, press on a keypad, wait for a page."""


class Effort(NamedTuple):
    """What a task costs."""

    taps: int
    keys: int
    loads: int

    def __str__(self) -> str:
        return f"{self.taps} / {self.keys} / {self.loads}"


def effort_of(text: str) -> Effort:
    taps, keys, loads = (int(part) for part in text.split("/"))
    return Effort(taps, keys, loads)


def recorded() -> dict[str, tuple[Effort, str]]:
    """Task to its target and what stands as counted."""
    table = USABILITY.read_text().split("<!-- counted -->")[1].split("<!-- end -->")[0]
    rows = [one.groupdict() for one in ROW.finditer(table)][1:]
    return {one["task"].strip(): (effort_of(one["target"]), one["now"].strip()) for one in rows}


class Hand:
    """Counts taps, keys beside digits and page loads from the moment it is put on a page."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = self.keys = self.loads = self.digits = 0
        page.on("request", self._asked)

    def _asked(self, request: Request) -> None:
        """A page that is asked for is a load, also where the hand is quicker than its last picture."""
        is_page = request.is_navigation_request() and request.frame == self.page.main_frame
        self.loads += is_page and request.redirected_from is None

    def tap(self, what: Locator) -> None:
        """Press something that is in view, or to which the page scrolls.

        A hand is slower than the server: what it tapped before is stored by then. A page that is left
        earlier sends it from the next one, which then loads itself again.
        """
        self.page.wait_for_load_state("load")
        expect(self.page.locator("[data-sending]:visible")).to_have_count(0)
        what.click()
        self.taps += 1

    def type(self, text: str) -> None:
        """Type where the focus stands; a sentence of one's own is what is recorded, and not counted.

        Keypads of decimals have a point beside the digits.
        """
        self.page.keyboard.type(text)
        self.digits += 0 if " " in text else len(text)
        self.keys += 0 if " " in text else sum(one not in "0123456789." for one in text)

    def focus(self) -> tuple[str, str]:
        """Name and keypad of what has the focus."""
        name, keypad = self.page.evaluate(
            "[document.activeElement.name ?? '', document.activeElement.inputMode ?? '']"
        )
        return name, keypad

    def sheet(self) -> Locator:
        """The form that has opened over the page, its Save in view."""
        sheet = self.page.locator("dialog[open]")
        expect(sheet).to_be_visible()
        expect(self.save()).to_be_in_viewport(ratio=1)
        return sheet

    def save(self) -> Locator:
        return self.page.locator("dialog[open]").get_by_role("button", name=SAVE, exact=True)

    def said(self) -> Locator:
        """What the page says of what was saved, in view."""
        said = self.page.locator(".messages")
        expect(said).to_be_in_viewport()
        return said

    def seconds(self) -> float:
        """How long the documenting alone takes, by the model of docs/usability.md."""
        return self.taps * S_PER_TAP + self.digits * S_PER_KEY + self.loads * S_PER_LOAD

    def effort(self) -> Effort:
        """All of it, once the page that it led to has loaded."""
        self.page.wait_for_load_state("load")
        return Effort(self.taps, self.keys, self.loads)


def open_family(page: Page, address: str, name: str, infants: int = 1, days: int = 3) -> str:
    """The path of a new family whose infants weighed 3200 g at birth."""
    page.goto(f"{address}/families/new/")
    page.locator("#id_name").fill(name)
    for place in range(1, infants + 1):
        if place > 1:
            page.get_by_role("button", name="Another infant").click()
        page.locator(f"#id_infant-{place}-name").fill(["Ada", "Bo", "Cy"][place - 1])
        born = f"{datetime.now(UTC) - timedelta(days=days):%Y-%m-%dT%H:%M}"
        page.locator(f"#id_infant-{place}-born").fill(born)
        page.locator(f"#id_infant-{place}-birth_weight").fill("3200")
        page.locator(f"#id_infant-{place}-gestation").fill("38+2")
    page.get_by_role("button", name="Open the family").click()
    page.wait_for_url(re.compile(r"/families/[0-9a-f-]{36}/$"))
    page.wait_for_load_state("load")
    return "/" + page.url.split("/", 3)[3]


def open_family_unseen(page: Page, address: str, name: str, days: int = 3) -> str:
    """The path of such a family with one infant, opened by what the form sends: the form is shown elsewhere."""
    form = f"{address}/families/new/"
    sent = dict(HIDDEN.findall(page.request.get(form).text()))
    typed = {
        "name": name,
        "setting": "clinic",
        "infant-1-name": "Ada",
        "infant-1-born": f"{datetime.now(UTC) - timedelta(days=days):%Y-%m-%dT%H:%M}",
        "infant-1-birth_weight": "3200",
        "infant-1-gestation": "38+2",
    }
    answer = page.request.post(form, form=sent | typed, headers={"Referer": form})
    path = urlsplit(answer.url).path
    assert re.fullmatch(r"/families/[0-9a-f-]{36}/", path), answer.text()
    return path


def assert_recorded(task: str, counted: Effort) -> None:
    """It is what the table says, and the table is within its target."""
    target, now = recorded()[task]
    assert str(counted) == now, f"docs/usability.md says {now} for {task}"
    assert all(part <= most for part, most in zip(counted, target, strict=True))
