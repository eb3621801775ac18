"""Answers of one contact that cannot both be so: kept, asked about in words where they were given, holding nothing up."""

from __future__ import annotations

import re
from html import unescape
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from suffice.care.contact.visit import Visit
from suffice.care.family.asking import record_of
from suffice.clinical.entry import Sign
from web.story import FAMILY, an_id
from web.test_contact import CONTACT, SCRIPT, answers, tap, text_of, visit
from web.test_drawing import BREAST, contact, give, next_contact
from web.test_follows import at_the_edge, mark_of

__all__ = ["contact"]

HISTORY = f"{CONTACT}infant_history/"
STATE = f"{CONTACT}state/"
FIT = "These do not fit"


def asked_about(page: Client, path: str) -> dict[str, list[str]]:
    """Question to what is asked about it on a page."""
    html = page.get(path).content.decode()
    found = re.findall(r'<div data-doubts="(\w+)"[^>]*>(.*?)</div>', html, re.DOTALL)
    return {
        what: [
            " ".join(unescape(one).split())
            for one in re.findall(r"<p class=\"doubt\"[^>]*>(.*?)</p>", inner, re.DOTALL)
        ]
        for what, inner in found
        if "doubt" in inner
    }


def test_no_redness_that_lasts_30_hours_is_asked_about_at_both_questions(
    page: Client, contact: Visit
) -> None:
    first = tap(contact, "redness", "none", infant=None, side="right")
    before = mark_of(page, BREAST)
    assert page.post(f"{BREAST}answer/", first, headers=SCRIPT)["X-Follows"] == before
    second = tap(contact, "red_h", "30", infant=None, side="right")
    stored = page.post(f"{BREAST}answer/", second, headers=SCRIPT)
    assert stored.status_code == 204
    assert before != stored["X-Follows"] == mark_of(page, BREAST)
    (edge,) = at_the_edge(page, BREAST)
    assert FIT in edge
    found = asked_about(page, BREAST)
    assert set(found) == {"redness", "red_h"}
    (says,) = found["redness"]
    assert (
        "redness of the breast, right: none; but hours since the redness began, right: 30 h."
        in says.replace("\xa0", " ")
    )
    assert FIT in says
    # Both are on the record, and the contact can be ended: nothing waits.
    assert (answers("redness"), answers("red_h")) == (["none"], ["30"])
    assert "Answers that do not fit" in text_of(page, CONTACT)
    assert f'href="{BREAST}#redness"' in page.get(CONTACT).content.decode()
    next_contact(page)
    assert asked_about(page, BREAST) == {}
    assert "do not fit" not in text_of(page, CONTACT)


def test_an_answer_that_was_corrected_is_asked_about_no_more(page: Client, contact: Visit) -> None:
    key = give(page, contact, "redness", "none")
    give(page, contact, "red_h", "30")
    give(page, contact, "redness", "patch", seen=key)
    assert asked_about(page, BREAST) == {}


def test_the_other_side_is_another_matter(page: Client, contact: Visit) -> None:
    give(page, contact, "redness", "none")
    page.post(f"{BREAST}answer/", tap(contact, "red_h", "30", infant=None, side="left"))
    assert asked_about(page, BREAST) == {}


def test_answers_of_two_parts_are_asked_about_on_both(page: Client, contact: Visit) -> None:
    page.post(f"{STATE}answer/", tap(contact, "feeding_now", "breast", side=None))
    page.post(
        f"{CONTACT}expression/answer/",
        tap(contact, "expression_use", "all", infant=None, side=None),
    )
    assert set(asked_about(page, HISTORY)) == {"feeding_now"}
    assert set(asked_about(page, f"{CONTACT}expression/")) == {"expression_use"}
    # It is Ava who is fed so; of Ben nothing was asked.
    assert asked_about(page, f"{HISTORY}?infant={an_id('infant 2')}") == {}


def hard_to_wake() -> dict[str, str]:
    """A sign as its form sends it."""
    return {
        "entry_id": str(uuid4()),
        "infant": str(an_id("infant 1")),
        "sign": "hard_to_wake",
        "present": "yes",
        "basis": "observed",
        "when": f"{timezone.now():%Y-%m-%dT%H:%M}",
    }


@pytest.mark.parametrize("first", ["answer", "sign"])
def test_a_sign_against_an_answer_is_asked_about_whichever_came_first(
    page: Client, contact: Visit, first: str
) -> None:
    answer = tap(contact, "rousing", "by_itself", side=None)
    sign = hard_to_wake()
    path = f"/families/{FAMILY}/enter/sign/"
    if first == "answer":
        page.post(f"{STATE}answer/", answer)
        saved = page.post(path, sign, follow=True).content.decode()
        assert "how the infant wakes: by itself; but hard to wake: yes" in unescape(saved)
    else:
        page.post(path, sign)
        before = mark_of(page, STATE)
        assert page.post(f"{STATE}answer/", answer, headers=SCRIPT)["X-Follows"] != before
    assert set(asked_about(page, STATE)) == {"rousing"}
    assert answers("rousing") == ["by_itself"]


def test_a_sign_of_before_the_contact_may_have_passed(page: Client, family: object) -> None:
    sign = hard_to_wake()
    page.post(f"/families/{FAMILY}/enter/sign/", sign)
    page.post(CONTACT, {"place": "home", "key": str(uuid4())})
    page.post(f"{STATE}answer/", tap(visit(), "rousing", "by_itself", side=None))
    assert asked_about(page, STATE) == {}


def test_one_tap_on_as_expected_contradicts_nothing(page: Client, contact: Visit) -> None:
    for part in (
        "breast",
        "nipple",
        "infant_history",
        "state",
        "latch",
        "feed",
        "mouth",
        "expression",
    ):
        html = page.get(f"{CONTACT}{part}/").content.decode()
        shown = re.findall(r'name="shown" value="([^"]+)"', html)
        sent = {"key": str(uuid4()), "contact": str(contact.id), "shown": shown}
        page.post(f"{CONTACT}{part}/expected/", sent)
    assert "do not fit" not in text_of(page, CONTACT)
    # What is used by few is never taken as seen: a bottle, a teat, another twin.
    assert [answers(what) for what in ("bottle_pace", "teat", "other_twin", "given_by")] == [[]] * 4


def test_as_expected_leaves_open_what_cannot_be_so_beside_an_answer(
    page: Client, contact: Visit
) -> None:
    nipple = f"{CONTACT}nipple/"
    page.post(f"{nipple}answer/", tap(contact, "nipple_harm", ["crack"], infant=None))
    html = page.get(nipple).content.decode()
    shown = re.findall(r'name="shown" value="([^"]+)"', html)
    assert "harm_depth left" not in shown
    assert {"harm_depth right", "nipple_after left"} <= set(shown)
    sent = {"key": str(uuid4()), "contact": str(contact.id), "shown": [*shown, "harm_depth left"]}
    page.post(f"{nipple}expected/", sent)
    assert answers("harm_depth") == ["unbroken"]
    assert asked_about(page, nipple) == {}


def test_what_is_red_on_one_side_is_inflamed_on_that_side(page: Client, contact: Visit) -> None:
    """The sign that the answer puts on the record for the flags has no side of its own."""
    page.post(f"{BREAST}answer/", tap(contact, "redness", "patch", infant=None, side="left"))
    assert "breast_red" in signs()
    text = text_of(page, CONTACT)
    assert "Inflamed breast (left)" in text
    assert "Inflamed breast (left and right)" not in text


def signs() -> set[str]:
    return {one.fact.sign for one in record_of(FAMILY).entries if isinstance(one.fact, Sign)}
