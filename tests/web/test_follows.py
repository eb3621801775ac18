"""What follows from an answer of a contact: at the edge at once, at its question when the page is loaded again."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from urllib.parse import unquote
from uuid import uuid4

import msgspec
from django.test import Client

from suffice.assess.problems.ask_next import Question
from suffice.assess.problems.named import name_problems
from suffice.care.contact.visit import Visit
from suffice.knowledge.store import load
from suffice.web.contact.problems import asked_next
from web.test_contact import CONTACT, SCRIPT, tap
from web.test_drawing import contact

__all__ = ["contact"]

CONTENT = load()
STATE = f"{CONTACT}state/"
BEFORE = "Ben:"
"""Whose flags the family of these tests has before it is asked anything."""


def follows(page: Client) -> dict[str, str]:
    """Question to what stands below it."""
    html = page.get(STATE).content.decode()
    found = re.findall(r'<div data-doubts="(\w+)"[^>]*>(.*?)</div>', html, re.DOTALL)
    plain = {
        what: " ".join(unescape(re.sub(r"<[^>]+>", " ", inner)).replace("\xa0", " ").split())
        for what, inner in found
    }
    return {what: said for what, said in plain.items() if said}


def mark_of(page: Client, path: str) -> str:
    """The mark of what a page has at its edge."""
    (mark,) = re.findall(r'data-follows="(\w+)"', page.get(path).content.decode())
    return str(mark)


def at_the_edge(page: Client, path: str) -> list[str]:
    """What a page has there for the script, in words; what the family has before the contact is left out."""
    html = page.get(path).content.decode()
    (edge,) = re.findall(r'<div class="follows".*?</div>', html, re.DOTALL)
    found = re.findall(r"<li [^>]*>(.*?)</li>", edge, re.DOTALL)
    said = [" ".join(unescape(re.sub(r"<[^>]+>", " ", one)).split()) for one in found]
    return [one for one in said if BEFORE not in one]


def answer(page: Client, contact: Visit, what: str, given: str, **more: str) -> str:
    """Answers about the infant, and what is said to the script."""
    sent = tap(contact, what, given, side=None) | more
    stored = page.post(f"{STATE}answer/", sent, headers=SCRIPT)
    assert "X-Refused" not in stored, what
    return str(stored["X-Follows"])


def test_an_emergency_is_said_to_the_script_with_the_answer(page: Client, contact: Visit) -> None:
    before = mark_of(page, STATE)
    assert at_the_edge(page, STATE) == []
    after = answer(page, contact, "rousing", "not")
    assert before != after == mark_of(page, STATE)
    (said,) = at_the_edge(page, STATE)
    assert "Cannot be woken" in said
    # What leads to nothing new changes nothing, and so is not fetched.
    assert answer(page, contact, "mouth_moist", "moist") == after


def test_a_red_flag_stands_at_the_edge_of_every_part(page: Client, contact: Visit) -> None:
    answer(page, contact, "rousing", "not")
    (said,) = at_the_edge(page, f"{CONTACT}mouth/")
    assert "Cannot be woken" in said


def test_a_corrected_answer_takes_what_followed_from_the_edge(page: Client, contact: Visit) -> None:
    before = mark_of(page, STATE)
    key = str(uuid4())
    answer(page, contact, "rousing", "not", key=key)
    assert answer(page, contact, "rousing", "by_itself", seen=key) == before
    assert at_the_edge(page, STATE) == []


def test_a_day_without_milk_is_said_where_it_was_entered(page: Client, contact: Visit) -> None:
    answer(page, contact, "last_milk_h", "30")
    (said,) = follows(page).values()
    assert "No milk for 30 h up to" in said
    assert "feed now" in said
    assert set(follows(page)) == {"last_milk_h"}


def test_an_hour_without_milk_says_nothing(page: Client, contact: Visit) -> None:
    answer(page, contact, "last_milk_h", "1")
    assert follows(page) == {}


def test_an_answer_that_is_a_sign_is_said_too(page: Client, contact: Visit) -> None:
    answer(page, contact, "rousing", "not")
    assert "Cannot be woken" in follows(page)["rousing"]


def test_what_was_said_before_this_contact_stands_at_no_question(
    page: Client, contact: Visit
) -> None:
    answer(page, contact, "last_milk_h", "30")
    end = {"entry_id": str(uuid4()), "setting": "home", "basis": "observed"}
    when = datetime.now(UTC) + timedelta(milliseconds=1)
    page.post(
        f"{CONTACT.removesuffix('contact/')}enter/contact/", end | {"when": f"{when:%FT%T.%f}"}
    )
    page.post(CONTACT, {"place": "clinic", "key": str(uuid4())})
    assert follows(page) == {}


def test_a_printed_flag_says_its_day_and_no_today(page: Client, contact: Visit) -> None:
    answer(page, contact, "rousing", "not")
    html = page.get(CONTACT).content.decode()
    flags = html[html.index('class="red-flags"') :].partition("</section>")[0]
    printed = re.sub(r'<span class="on-screen">.*?</span>', "", flags)
    assert "Cannot be woken" in printed
    assert "Cannot be woken" in re.sub(r'<span class="on-paper">.*?</span>', "", flags)
    near = re.compile(r"today \d\d:\d\d")
    assert near.search(flags)
    assert not near.search(re.sub(r'<span class="only-heard">.*?</span>', "", printed))


def edge_asks(page: Client, path: str) -> tuple[str, str]:
    """The name and the link of what a part asks next at its edge; empty where it asks nothing."""
    html = page.get(path).content.decode()
    (link, line) = re.findall(
        r'<a class="ask-edge"[^>]*href="([^"]*)"[^>]*>(.*?)</a>', html, re.DOTALL
    )[0]
    (name,) = re.findall(r"<strong data-name>(.*?)</strong>", line)
    return unescape(name), unescape(link)


def test_the_edge_of_a_part_asks_what_the_page_of_the_contact_asks_first(
    page: Client, contact: Visit
) -> None:
    answer(page, contact, "wakes_for_feeds", "woken")
    name, link = edge_asks(page, STATE)
    (first, *_) = re.findall(
        r'<ul class="ask-next">\s*<li>\s*<a href="([^"]*)">(.*?)</a>',
        page.get(CONTACT).content.decode(),
    )
    at, says = (unescape(one) for one in first)
    assert link == at
    # The edge has two lines: it says what is asked, and not by which entry.
    assert says.lower().endswith(name.lower())


def test_an_answer_tells_the_script_what_to_ask_next(page: Client, contact: Visit) -> None:
    sent = tap(contact, "wakes_for_feeds", "woken", side=None)
    stored = page.post(f"{STATE}answer/", sent, headers=SCRIPT)
    name, why, link = json.loads(unquote(stored["X-Ask-Next"]))
    assert (name, link) == edge_asks(page, STATE)
    assert why.startswith("It may change: ")
    # Answered, it is asked no more.
    key = link.partition("#")[2]
    assert key != "wakes_for_feeds"


def test_the_edge_that_whoever_sits_beside_sees_asks_nothing_of_the_mood() -> None:
    asked = tuple(
        Question(key=key, problems=("low_mood",), level_place=0, changes_leading=True)
        for key in ("self_harm_item", "worry", "bunched")
    )
    infant = uuid4()
    named = name_problems({}, CONTENT)
    for ask, is_asked in ((asked, True), (asked[:2], False)):
        found = {infant: msgspec.structs.replace(named, ask=ask)}
        edge = asked_next(found, infant, uuid4(), CONTENT)
        assert (edge is not None) == is_asked
        assert edge is None or edge.link.endswith("#bunched")
