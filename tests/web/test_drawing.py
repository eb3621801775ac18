"""Breast and nipple drawn: what was found today, what the last look found, and what changed, in words."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape
from uuid import UUID, uuid4

import pytest
from django.test import Client

from suffice.care.contact.visit import Visit, visit_of
from suffice.care.family.asking import record_of
from suffice.care.family.recording import record_entry
from suffice.clinical import entry as domain
from suffice.clinical.entry import standing
from web.story import FAMILY, an_id, entered
from web.test_contact import CONTACT, NIPPLE, answers, signs, tap, text_of, visit

BREAST = f"{CONTACT}breast/"


@pytest.fixture
def contact(page: Client, family: UUID) -> Visit:
    page.post(CONTACT, {"place": "home", "key": str(an_id("start"))})
    return visit()


def give(
    page: Client, contact: Visit, what: str, answer: str | list[str], *, seen: str = ""
) -> str:
    """Answer one question about the right side; returns the key of the tap."""
    sent = tap(contact, what, answer, infant=None, side="right", seen=seen)
    part = NIPPLE if what.startswith(("harm", "nipple")) else BREAST
    assert "X-Refused" not in page.post(f"{part}answer/", sent), what
    return str(sent["key"])


def next_contact(page: Client) -> Visit:
    end = {"entry_id": str(uuid4()), "setting": "home", "basis": "observed"}
    page.post(f"/families/{FAMILY}/enter/contact/", end | {"when": f"{datetime.now(UTC):%FT%T.%f}"})
    page.post(CONTACT, {"place": "clinic", "key": str(uuid4())})
    return visit()


def drawing(page: Client, path: str, side: str) -> str:
    html = page.get(path).content.decode()
    return re.findall(rf'<figure[^>]+data-side="{side}".*?</figure>', html, re.DOTALL)[0]


def fields(page: Client, path: str, mark: str) -> list[str]:
    """The fields of the right side that are drawn as today's (`data-now`)."""
    found = re.findall(r'data-key="(\w+)"( data-now)?', drawing(page, path, "right"))
    return [key for key, now in found if now == f" {mark}"]


def says(page: Client, path: str, side: str = "right") -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", drawing(page, path, side))).split())


def test_nothing_is_drawn_before_anything_was_seen_and_each_side_is_there(
    page: Client, contact: Visit
) -> None:
    html = page.get(BREAST).content.decode()
    assert re.findall(r'data-map="breast" data-side="(\w+)"', html) == ["right", "left"]
    assert "data-now" not in html
    assert 'class="block drawn">' in html
    assert "data-map" not in page.get(f"{CONTACT}latch/").content.decode()


def test_redness_is_drawn_on_its_side_and_said_with_its_extent(
    page: Client, contact: Visit
) -> None:
    give(page, contact, "red_where", ["o9", "o10", "i10"])
    give(page, contact, "red_cm", "6")
    give(page, contact, "red_cm2", "24")
    assert sorted(fields(page, BREAST, "data-now")) == ["i10", "o10", "o9"]
    assert "data-now" not in drawing(page, BREAST, "left")
    text = says(page, BREAST)
    assert "10 o'clock, inner ring and 9 to 10 o'clock, outer ring" in text
    assert "about 13 % of the drawing, largest extent 6.0 cm, area 24 cm²" in text
    assert 'class="block drawn" open>' in page.get(BREAST).content.decode()


def test_what_is_drawn_red_is_red_before_the_table_of_flags(page: Client, contact: Visit) -> None:
    first = give(page, contact, "red_where", ["o9"])
    assert signs() == ["breast_red"]
    second = give(page, contact, "red_where", ["o9", "o10"], seen=first)
    third = give(page, contact, "red_where", ["o10"], seen=second)
    assert signs() == ["breast_red"]
    entered = [e for e in record_of(FAMILY).entries if isinstance(e.fact, domain.Sign)]
    assert len(entered) == 1
    give(page, contact, "red_where", [], seen=third)
    assert signs() == []
    give(page, contact, "red_where", ["o9"])
    assert signs() == ["breast_red"]


def test_taps_twice_double_nothing_and_one_that_comes_late_is_kept_beside(
    page: Client, contact: Visit
) -> None:
    mother: dict[str, str | None] = {"infant": None, "side": "right"}
    first = tap(contact, "red_where", ["o9"], **mother)
    second = tap(contact, "red_where", ["o9", "o10"], seen=str(first["key"]), **mother)
    for sent in (first, first, second, second, first):
        page.post(f"{BREAST}answer/", sent)
    assert answers("red_where") == ["o9|o10"]
    # The second tap on the left side arrives before the first.
    mother["side"] = "left"
    first = tap(contact, "red_where", ["o3"], **mother)
    second = tap(contact, "red_where", ["o3", "o4"], seen=str(first["key"]), **mother)
    for sent in (second, first, first, second):
        page.post(f"{BREAST}answer/", sent)
    assert sorted(filter(None, answers("red_where"))) == ["o3", "o3|o4", "o9|o10"]
    assert "Two answers differ" in text_of(page, BREAST)


def test_the_last_look_is_drawn_in_another_pattern_and_the_change_said(
    page: Client, contact: Visit
) -> None:
    give(page, contact, "redness", "wedge")
    give(page, contact, "red_where", ["o9"])
    give(page, contact, "red_cm", "4")
    later = next_contact(page)
    assert fields(page, BREAST, "data-now") == []
    drawn = drawing(page, BREAST, "right")
    assert re.search(r'class="was"[^>]+ fill="url\(#was-right\)"', drawn)
    # What the page's policy of contents would not let through.
    assert " style=" not in drawn
    assert "Redness at the last look" in says(page, BREAST)
    give(page, later, "red_where", ["o9", "o10"])
    give(page, later, "red_cm", "6.5")
    text = says(page, BREAST)
    assert "Since then: larger, new: 10 o'clock, outer ring" in text
    assert "largest extent 6.5 cm, was 4.0 cm" in text
    assert 'class="was"' not in drawing(page, BREAST, "left")


def test_what_grew_here_and_shrank_there_is_said_so(page: Client, contact: Visit) -> None:
    give(page, contact, "red_where", ["o9"])
    later = next_contact(page)
    key = give(page, later, "red_where", ["o10"])
    assert "partly larger, partly smaller, new: 10 o'clock" in says(page, BREAST)
    give(page, later, "red_where", ["o9"], seen=key)
    assert "no change in what is drawn" in says(page, BREAST)


def test_what_is_gone_is_said_and_is_no_longer_drawn_at_the_next(
    page: Client, contact: Visit
) -> None:
    give(page, contact, "red_where", ["o9"])
    give(page, contact, "redness", "patch")
    later = next_contact(page)
    give(page, later, "redness", "none")
    assert "Since then: gone" in says(page, BREAST)
    next_contact(page)
    assert 'class="was"' not in drawing(page, BREAST, "right")


def test_a_lump_is_drawn_where_its_hour_and_its_distance_say(page: Client, contact: Visit) -> None:
    give(page, contact, "lump_clock", "3")
    assert re.search(r'data-lump\s+r="0"', drawing(page, BREAST, "right"))
    give(page, contact, "lump_from_nipple_cm", "5")
    give(page, contact, "lump_cm", "2")
    place = r'data-lump\s+cx="50.0" cy="-?0.0" r="10.0"'
    assert re.search(place, drawing(page, BREAST, "right"))
    assert "Lump: 3 o'clock, 5.0 cm from the nipple, 2.0 cm wide" in says(page, BREAST)
    later = next_contact(page)
    give(page, later, "lump_clock", "4")
    give(page, later, "lump_from_nipple_cm", "5")
    give(page, later, "lump_cm", "1")
    assert 'class="lump-was"' in drawing(page, BREAST, "right")
    assert "smaller, 4 o'clock, was 3 o'clock, 1.0 cm wide, was 2.0 cm" in says(page, BREAST)


def test_damage_is_drawn_on_the_nipple_by_clock_and_share(page: Client, contact: Visit) -> None:
    give(page, contact, "nipple_harm", "crack")
    give(page, contact, "harm_clock", ["h2"])
    give(page, contact, "harm_place", ["tip"])
    give(page, contact, "harm_percent", "25")
    assert sorted(fields(page, NIPPLE, "data-now")) == ["h2", "tip"]
    assert "2 o'clock, side of the nipple and tip, 25 % of the nipple" in says(page, NIPPLE)
    next_contact(page)
    assert "Damage at the last look" in says(page, NIPPLE)
    assert "Was: crack" in text_of(page, NIPPLE)


@pytest.mark.parametrize(
    ("what", "answer", "asked_by", "none", "link"),
    [
        ("red_where", ["o9"], "redness", "redness of the breast", "breast/#redness"),
        ("lump_clock", "3", "lump", "lump by feel", "breast/#lump"),
        ("harm_clock", ["h2"], "nipple_harm", "damage of the nipple", "nipple/#nipple_harm"),
    ],
)
def test_a_drawing_against_an_answer_is_kept_beside_it_and_asked_about(
    page: Client,
    contact: Visit,
    what: str,
    answer: str | list[str],
    asked_by: str,
    none: str,
    link: str,
) -> None:
    give(page, contact, what, answer)
    part = NIPPLE if "nipple" in none else BREAST
    assert f"'{none}' has no answer yet" in says(page, part)
    key = give(page, contact, asked_by, "none")
    assert f"{none}, right: none; but" in text_of(page, part)
    assert f'href="{CONTACT}{link}"' in page.get(CONTACT).content.decode()
    assert answers(asked_by) == ["none"]
    assert len(answers(what)) == 1
    word = {"redness": "patch", "lump": "cord", "nipple_harm": "crack"}[asked_by]
    give(page, contact, asked_by, word, seen=key)
    assert "; but" not in text_of(page, part)
    assert f'href="{CONTACT}{link}"' not in page.get(CONTACT).content.decode()


@pytest.mark.parametrize("odd", ["o13", "elsewhere", "i0"])
def test_a_field_that_the_drawing_does_not_know_is_refused_and_one_on_the_record_shown(
    page: Client, contact: Visit, odd: str
) -> None:
    sent = tap(contact, "red_where", [odd], infant=None, side="right")
    assert page.post(f"{BREAST}answer/", sent)["X-Refused"] == "yes"
    fact = domain.Observation(
        what="red_where", answer=f"o9|{odd}", side="right", contact_id=contact.id
    )
    record_entry(FAMILY, entered(fact, by="colleague"), now=datetime.now(UTC))
    assert odd in says(page, BREAST)
    assert fields(page, BREAST, "data-now") == ["o9"]


def test_a_number_on_the_record_that_is_none_is_shown_as_it_is(
    page: Client, contact: Visit
) -> None:
    fact = domain.Observation(
        what="lump_clock", answer="half two", side="right", contact_id=contact.id
    )
    record_entry(FAMILY, entered(fact, by="colleague"), now=datetime.now(UTC))
    assert "half two" in says(page, BREAST)
    assert any(one.fact == fact for one in standing(record_of(FAMILY).entries))
    assert visit_of(record_of(FAMILY)) is not None
