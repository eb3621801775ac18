"""A finding of a contact whose key the content no longer knows is shown, and never lost."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest
from django.test import Client

from pdf_reader import see
from suffice.care.contact.visit import visit_of
from suffice.care.family.asking import record_of
from suffice.care.family.recording import record_entry
from suffice.clinical import entry as domain
from suffice.clinical.entry import standing
from web.story import FAMILY, an_id, entered
from web.test_contact import CONTACT, INFANT

pytestmark = pytest.mark.django_db(transaction=True)
GONE = "tongue_colour_of_old"


def find(what: str, answer: str, infant: str | None = None) -> UUID:
    """An answer that comes by another way than the page: a later content dropped the word, say."""
    visit = visit_of(record_of(FAMILY))
    assert visit is not None
    fact = domain.Observation(what=what, answer=answer, side="left", contact_id=visit.id)
    entry = entered(fact, infant=UUID(infant) if infant else None, by="colleague")
    record_entry(FAMILY, entry, now=datetime.now(UTC))
    return entry.id


@pytest.fixture
def contact(page: Client, family: UUID) -> None:
    page.post(CONTACT, {"place": "home", "key": str(an_id("start"))})


def says(page: Client, path: str) -> str:
    answer = page.get(path)
    assert answer.status_code == 200, path
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


@pytest.mark.usefixtures("contact")
def test_a_word_that_is_gone_is_shown_by_the_contact_the_family_and_the_note(page: Client) -> None:
    assert "no part asks any more" not in says(page, CONTACT)
    find(GONE, "violet", INFANT)
    assert f"{GONE}, left: violet" in says(page, CONTACT)
    assert GONE in says(page, f"/families/{FAMILY}/")
    note = page.get(f"/families/{FAMILY}/papers/note/")
    text = see(note.content, language="en").text
    assert GONE in text.lower()
    assert "violet" in text.lower()


@pytest.mark.usefixtures("contact")
def test_an_answer_that_is_gone_is_shown_and_one_that_is_known_is_not(page: Client) -> None:
    find("gape", "enormous", INFANT)
    find("chin", "no", INFANT)
    shown = says(page, CONTACT)
    assert "Opening of the mouth on the breast, left: enormous" in shown
    unknown = shown.partition("no part asks any more")[2].partition("End the contact")[0]
    assert not re.search(r"\bchin\b", unknown, re.IGNORECASE)


@pytest.mark.usefixtures("contact")
def test_it_goes_into_the_export_and_stays_where_it_ends(page: Client) -> None:
    kept = find(GONE, "violet", INFANT)
    file = b"".join(page.get(f"/families/{FAMILY}/export/"))
    assert GONE.encode() in file
    visit = visit_of(record_of(FAMILY))
    assert visit is not None
    page.post(
        f"/families/{FAMILY}/enter/contact/",
        {"entry_id": str(uuid4()), "contact_id": str(visit.id), "setting": "home"}
        | {"basis": "observed", "when": f"{datetime.now(UTC):%FT%T.%f}"},
    )
    assert visit_of(record_of(FAMILY)) is None
    assert any(one.id == kept for one in standing(record_of(FAMILY).entries))
