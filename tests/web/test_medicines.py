"""What a parent takes, in words: kept as written, shown beside the next contact, read by no rule."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape
from uuid import uuid4

import pytest
from django.test import Client

from pdf_reader import see
from suffice.assess.problems.observed import observed_finds
from suffice.care.contact.visit import Visit
from suffice.care.family.asking import record_of
from suffice.clinical.entry import standing
from suffice.knowledge.store import load
from web.story import FAMILY
from web.test_contact import CONTACT, answers, contact, tap, visit

__all__ = ["contact"]
pytestmark = pytest.mark.django_db(transaction=True)
PART = f"{CONTACT}parent_history/"
TAKES = "levothyroxine 75 µg since May\niron | vitamin D"


def say(page: Client, words: str, **changed: str | None) -> str:
    """Answers in words; gives what the page then says."""
    sent = tap(visit(), "medicines", words, infant=None, side=None, **changed)
    page.post(f"{PART}answer/", sent)
    return unescape(re.sub(r"<[^>]+>", " ", page.get(PART).content.decode()))


def in_force() -> str:
    """The id of the one entry on medicines that counts."""
    entries = standing(record_of(FAMILY).entries)
    (found,) = [one.id for one in entries if getattr(one.fact, "what", "") == "medicines"]
    return str(found)


def test_words_are_kept_as_they_were_written(page: Client, contact: Visit) -> None:
    assert TAKES in say(page, f"  {TAKES}\r\n".replace("May\n", "May\r\n"))
    assert answers("medicines") == [TAKES]


def test_they_are_corrected_and_taken_back(page: Client, contact: Visit) -> None:
    say(page, TAKES)
    say(page, "nothing any more", seen=in_force())
    assert answers("medicines") == ["nothing any more"]
    say(page, "", seen=in_force())
    assert answers("medicines") == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("a" * 201, "has 201 characters. At most 200 fit here: write the rest as a note."),
        ("iron\0", "has signs that no page shows. Type it again."),
    ],
)
def test_what_cannot_be_kept_is_said(page: Client, contact: Visit, words: str, says: str) -> None:
    assert says in " ".join(say(page, words).split())
    assert answers("medicines") == []


def test_the_next_contact_shows_them_and_nothing_is_carried_over(
    page: Client, contact: Visit
) -> None:
    say(page, TAKES)
    end = {"entry_id": str(uuid4()), "contact_id": str(contact.id), "setting": "home"}
    when = {"basis": "observed", "when": f"{contact.start.true_at:%FT%T.%f}"}
    page.post(f"/families/{FAMILY}/enter/contact/", end | when)
    page.post(CONTACT, {"place": "home", "key": str(uuid4())})
    shown = page.get(PART).content.decode()
    assert "levothyroxine 75 µg since May" in shown.partition('class="was"')[2]
    assert (
        '<textarea id="given-medicines" name="answer" rows="2" maxlength="200"></textarea>' in shown
    )


def test_no_rule_reads_them_and_the_note_has_them(page: Client, contact: Visit) -> None:
    say(page, "iron")
    entries = [one for one in standing(record_of(FAMILY).entries) if one.infant_id is None]
    found = observed_finds(entries, load(), datetime.now(UTC), contact.id)
    assert "medicines" not in found
    note = see(page.get(f"/families/{FAMILY}/papers/note/").content, language="en").text
    assert "iron" in note.lower()
