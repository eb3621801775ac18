"""What a day's work costs on a phone: counted here, kept in docs/usability.md, never more than there."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import PHONE, Visit, entries_of
from browser.hand import (
    PAPERS,
    SLOW_GAIN,
    TO_BE_COUNTED,
    Hand,
    assert_recorded,
    effort_of,
    open_family,
    open_family_unseen,
    recorded,
)

COUNTED_HERE = {
    "a naked weight",
    "a naked weight of a twin",
    "a test weight",
    "a wet diaper",
    "a stool",
    "a wet diaper and a stool",
    "a count of the last 24 h",
    "a temperature",
    "a note",
    "a further infant in the form of a new family",
    "who needs me now",
    "a family by its name, from the caseload",
    "the next family of the list",
    "a table with two open questions, from the file to the record",
    "a sore-nipple visit, from 'Start a contact' to named problems",
}
COUNTED_THERE = {SLOW_GAIN, PAPERS}
"""By tests/browser/test_slow_gain.py and test_papers_of_a_contact.py."""
LEAST_ABOVE_THE_FOLD = 4
SLOW_MS = 20_000
"""For a page that is loaded while the machine is busy with other tests."""


@pytest.fixture(scope="module")
def paths() -> dict[int, str]:
    return {}


@pytest.fixture
def phone(visit: Visit) -> Page:
    return visit("/", is_new_session=True, viewport=PHONE, has_touch=True)


@pytest.fixture
def hand(phone: Page, address: str, paths: dict[int, str]) -> Hand:
    """A hand on the page of a family with one infant."""
    if 1 not in paths:
        paths[1] = open_family_unseen(phone, address, "Solene Testcase")
    phone.goto(f"{address}{paths[1]}")
    return Hand(phone)


@pytest.fixture
def hand_of_twins(phone: Page, address: str, paths: dict[int, str]) -> Hand:
    if 2 not in paths:
        paths[2] = open_family(phone, address, "Twyla Testcase", infants=2)
    phone.goto(f"{address}{paths[2]}")
    return Hand(phone)


def enter(hand: Hand, name: str) -> None:
    hand.tap(hand.page.locator("main").get_by_role("link", name=name, exact=True).first)
    hand.sheet()


def test_every_task_of_the_table_is_counted_or_says_that_it_is_not_yet() -> None:
    left = {task for task, (_target, now) in recorded().items() if now == TO_BE_COUNTED}
    assert set(recorded()) - left == COUNTED_HERE | COUNTED_THERE
    for task in COUNTED_HERE | COUNTED_THERE:
        target, now = recorded()[task]
        assert all(a <= b for a, b in zip(effort_of(now), target, strict=True)), task


def test_naked_weight(hand: Hand) -> None:
    enter(hand, "Weight")
    assert hand.focus() == ("weight", "decimal")
    hand.type("3110")
    hand.tap(hand.sheet().get_by_text("Naked", exact=True))
    hand.tap(hand.save())
    expect(hand.said()).to_contain_text("Saved: Weight of Ada, 3110\u00a0g, naked.")
    expect(hand.said()).to_contain_text("g/day since")
    expect(hand.said().get_by_role("link", name="Correct")).to_be_visible()
    assert_recorded("a naked weight", hand.effort())
    enter(hand, "Weight")
    expect(hand.sheet().get_by_label("Naked")).to_be_checked()


def test_weight_of_a_twin_asks_of_whom_and_nothing_is_preselected(hand_of_twins: Hand) -> None:
    hand = hand_of_twins
    enter(hand, "Weight")
    expect(hand.sheet().locator("input[name=infant]:checked")).to_have_count(0)
    hand.tap(hand.sheet().get_by_text("Bo", exact=True))
    assert hand.focus() == ("weight", "decimal")
    hand.type("3105")
    hand.tap(hand.sheet().get_by_text("Naked", exact=True))
    hand.tap(hand.save())
    expect(hand.said()).to_contain_text("Saved: Weight of Bo, 3105\u00a0g")
    assert_recorded("a naked weight of a twin", hand.effort())


def test_test_weight_says_the_transfer_at_once(hand: Hand) -> None:
    enter(hand, "Test weight")
    assert hand.focus() == ("before", "decimal")
    hand.type("3100")
    hand.tap(hand.page.locator("#id_after"))
    assert hand.focus() == ("after", "decimal")
    hand.type("3128")
    hand.tap(hand.sheet().get_by_text("Yes", exact=True))
    hand.tap(hand.save())
    said = hand.said()
    expect(said).to_contain_text("Saved: Test weight of Ada")
    expect(said).to_contain_text(re.compile(r"Taken at this feed: \d+\smL"))
    expect(said).to_contain_text("interval")
    expect(said).to_contain_text("% of a feed")
    assert_recorded("a test weight", hand.effort())


@pytest.mark.parametrize(
    ("button", "task", "said"),
    [
        ("Wet", "a wet diaper", "Saved: wet diaper of Ada."),
        ("Stool", "a stool", "Saved: stool of Ada."),
        ("Both", "a wet diaper and a stool", "Saved: wet diaper and stool of Ada."),
    ],
)
def test_diaper_is_one_tap_and_can_be_taken_back(
    hand: Hand, button: str, task: str, said: str
) -> None:
    path = "/" + hand.page.url.split("/", 3)[3]
    before = entries_of(hand.page, path)
    hand.tap(hand.page.locator(".quick").get_by_role("button", name=button, exact=True))
    expect(hand.said()).to_contain_text(said)
    expect(hand.said()).to_contain_text(re.compile(r"24\sh: \d+ wets?"))
    assert_recorded(task, hand.effort())
    number = 2 if button == "Both" else 1
    assert entries_of(hand.page, path) == before + number
    hand.tap(hand.said().get_by_role("button", name="Undo"))
    expect(hand.said()).to_contain_text("Undone")
    assert entries_of(hand.page, path) == before + 2 * number  # struck through, not deleted


def test_count_of_a_day(hand: Hand) -> None:
    hand.tap(hand.page.locator(".quick").get_by_role("link", name="Count of the last 24 h"))
    hand.sheet()
    assert hand.focus() == ("wets", "numeric")
    hand.type("5")
    hand.tap(hand.page.locator("#id_stools"))
    hand.type("3")
    hand.tap(hand.save())
    expect(hand.said()).to_contain_text("Saved: count of the last 24 h of Ada. In 24 h: 5 wets")
    assert_recorded("a count of the last 24 h", hand.effort())


def test_temperature_says_of_whom(hand: Hand) -> None:
    enter(hand, "Temperature")
    hand.tap(hand.sheet().get_by_text("Ada", exact=True))
    assert hand.focus() == ("temperature", "decimal")
    hand.type("36.9")
    hand.tap(hand.save())
    expect(hand.said()).to_contain_text("Saved: Temperature of Ada, 36.9")
    assert_recorded("a temperature", hand.effort())


def test_note(hand: Hand) -> None:
    enter(hand, "Note")
    assert hand.focus()[0] == "text"
    hand.type("Slept well at last.")
    hand.tap(hand.save())
    expect(hand.said()).to_contain_text("Saved: Note of Solene Testcase")
    assert_recorded("a note", hand.effort())


def test_new_family_has_seven_fields_and_twins_carry_over_what_they_share(
    phone: Page, address: str
) -> None:
    phone.goto(f"{address}/families/new/")
    expect(phone.locator("form.sheet .field:visible")).to_have_count(7)
    assert phone.evaluate("document.activeElement.name") == "name"
    expect(phone.get_by_role("button", name="Open the family")).to_be_in_viewport(ratio=1)
    phone.locator("#id_infant-1-born").fill("2026-11-01T06:00")
    phone.locator("#id_infant-1-gestation").fill("36+4")
    phone.locator("section.infant").get_by_text("Caesarean", exact=True).click()
    hand = Hand(phone)
    hand.tap(phone.get_by_role("button", name="Another infant"))
    expect(phone.locator("#id_infant-2-gestation")).to_have_value("36+4")
    expect(phone.locator("#id_infant-2-born")).to_have_value("01/11/2026 06:00")
    expect(phone.locator("input[name=infant-2-mode]:checked")).to_have_value("caesarean")
    expect(phone.locator(".wrong, #what-is-wrong")).to_have_count(0)
    assert hand.focus() == ("infant-2-birth_weight", "decimal")
    hand.type("2410")
    hand.tap(phone.locator("section.infant").nth(1).get_by_text("Girl", exact=True))
    assert_recorded("a further infant in the form of a new family", hand.effort())


def test_who_needs_me_now_is_read_without_a_tap(phone: Page) -> None:
    """The list that signing in leads to: level, name and reason of four families in view."""
    hand = Hand(phone)
    rows = phone.locator(".caseload .family")
    seen = 0
    for row in rows.all():
        box = row.bounding_box()
        if not box or box["y"] + box["height"] > PHONE["height"]:
            break
        for part in (".level .mark", ".name a", ".why"):
            expect(row.locator(part).first).to_be_in_viewport(ratio=1)
        seen += 1
    assert seen >= LEAST_ABOVE_THE_FOLD
    expect(phone.locator(".level-head .mark").first).to_contain_text("Now")
    assert_recorded("who needs me now", hand.effort())


def test_family_is_found_by_three_letters_of_its_name(phone: Page) -> None:
    hand = Hand(phone)
    hand.tap(phone.locator("#q"))
    hand.type("xim")
    found = phone.locator(".caseload .name a")
    expect(found).to_have_text(["Ximena Thorvald"])
    expect(found).to_be_in_viewport(ratio=1)
    assert_recorded("a family by its name, from the caseload", hand.effort())


def test_next_family_is_one_tap(phone: Page) -> None:
    names = phone.locator(".caseload .name a")
    first, second = names.nth(0).inner_text(), names.nth(1).inner_text()
    names.nth(0).click()
    expect(phone.get_by_role("heading", level=1)).to_have_text(first, timeout=SLOW_MS)
    phone.wait_for_load_state("load")
    hand = Hand(phone)
    following = phone.get_by_role("link", name="Next family")
    expect(following).to_be_in_viewport(ratio=1)
    with phone.expect_event("load"):
        hand.tap(following)
    expect(phone.get_by_role("heading", level=1)).to_have_text(second, timeout=SLOW_MS)
    assert_recorded("the next family of the list", hand.effort())


def test_open_questions_of_a_table_are_asked_one_by_one(phone: Page, address: str) -> None:
    phone.goto(f"{address}/import/")
    rows = b"infant,date,weight g\n1,03/11/2026,3200\n1,05/11/2026,3250\n"
    phone.locator("#id_file").set_input_files(
        {"name": "ward.csv", "mimeType": "text/csv", "buffer": rows}
    )
    hand = Hand(phone)
    hand.tap(phone.get_by_role("button", name="Look at the file"))
    expect(phone.get_by_role("heading", level=2)).to_have_text(re.compile("without a time of day"))
    assert hand.focus()[0] == "time_of_day"
    expect(phone.get_by_role("button", name="Answer")).to_be_in_viewport(ratio=1)
    hand.type("12:00")
    hand.tap(phone.get_by_role("button", name="Answer"))
    expect(phone.get_by_role("heading", level=2)).to_have_text(re.compile("may be two dates"))
    expect(phone.get_by_text("Time of day where the table has dates only: 12:00")).to_be_visible()
    choice = phone.get_by_role("button", name="Day first: Tue 3 Nov 2026")
    expect(choice).to_be_in_viewport(ratio=1)
    hand.tap(choice)
    expect(phone.get_by_text("Tue 3 Nov 2026, 12:00 GMT")).to_be_attached()
    hand.tap(phone.get_by_role("button", name="Import", exact=True))
    expect(phone.get_by_text("entries imported")).to_be_visible()
    assert_recorded("a table with two open questions, from the file to the record", hand.effort())


def test_answers_of_a_table_are_given_and_reopened_with_the_keyboard(
    phone: Page, address: str
) -> None:
    phone.goto(f"{address}/import/")
    rows = b"infant,date,weight g\n1,03/11/2026 10:00,3200\n"
    phone.locator("#id_file").set_input_files(
        {"name": "ward.csv", "mimeType": "text/csv", "buffer": rows}
    )
    phone.get_by_role("button", name="Look at the file").press("Enter")
    expect(phone.locator("#asked")).to_be_focused(timeout=SLOW_MS)
    phone.keyboard.press("Tab")
    phone.keyboard.press("Tab")
    phone.keyboard.press("Enter")
    line = phone.locator("summary", has_text="Order of dates: month first")
    line.press("Enter")
    phone.get_by_label("day first").check()
    phone.locator("details[open]").get_by_role("button", name="Look again").press("Enter")
    expect(phone.locator("summary", has_text="Order of dates: day first")).to_be_visible()
    # Enter in a field that was reopened renews the page, and presses no answer.
    phone.locator("summary", has_text="Name of this source").press("Enter")
    phone.locator("#id_source").fill("ward 4")
    phone.locator("#id_source").press("Enter")
    expect(phone.locator("summary", has_text="Name of this source: ward 4")).to_be_visible()


def test_sore_nipple_visit(hand: Hand) -> None:
    """Both breasts looked at by exception, one nipple creased, pain as a number, the latch watched."""
    page = hand.page

    def part(name: str) -> None:
        hand.tap(page.get_by_role("link", name=name, exact=False).first)
        expect(page.locator("h1")).to_contain_text(name)

    def answer(what: str, name: str | re.Pattern[str]) -> None:
        hand.tap(page.locator(f"#{what}").get_by_role("button", name=name).first)

    hand.tap(page.get_by_role("link", name="Start a contact"))
    hand.tap(page.get_by_role("button", name="Home", exact=True))
    part("Nipple")
    answer("nipple_after", "Creased")
    hand.tap(page.locator("#nipple_harm").get_by_label("Crack").first)
    hand.tap(page.get_by_role("button", name="I looked: as expected"))
    hand.tap(page.get_by_role("link", name="Next: Pain", exact=True))
    answer("pain_start", re.compile(r"^7\b"))
    answer("pain_end", re.compile(r"^6\b"))
    hand.tap(page.get_by_role("link", name="All parts").first)
    part("Latch")
    answer("gape", "Short of it")
    hand.tap(page.get_by_role("button", name="I looked: as expected"))
    hand.tap(page.get_by_role("link", name="All parts").first)
    expect(page.get_by_text("Shallow latch").first).to_be_visible()
    expect(page.get_by_text("Nipple pain or damage from the latch").first).to_be_visible()
    counted = hand.effort()
    hand.tap(page.get_by_role("link", name="End it and plan the next"))
    hand.tap(hand.save())
    expect(hand.said()).to_contain_text("Saved: Contact")
    assert_recorded("a sore-nipple visit, from 'Start a contact' to named problems", counted)
