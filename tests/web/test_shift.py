"""The hand-over of the shift is the caseload on paper, one click away from it."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import UUID

from django.test import Client

from pdf_reader import Seen, see
from suffice.care.family.recording import record_entries
from suffice.clinical import entry as domain
from web.story import FAMILY, NAME, an_id, entered


def paper(page: Client, **query: str) -> Seen:
    response = page.get("/shift/", query)
    assert response["Content-Type"] == "application/pdf"
    assert response["Cache-Control"] == "no-store"
    seen = see(response.content, language=query.get("language", "en"))
    assert seen.faults == ()
    return seen


def test_the_caseload_leads_to_it_with_the_same_choice(page: Client, family: UUID) -> None:
    assert 'href="/shift/"' in page.get("/").content.decode()
    assert 'href="/shift/?list=mine"' in page.get("/?list=mine").content.decode()


def test_it_has_the_families_of_the_list(page: Client, family: UUID) -> None:
    row = next(one for one in paper(page).of("TR") if one.startswith(NAME))
    assert "Ben: 2640" in row
    assert "My families: 1" in paper(page, list="mine").text
    assert "Nobody is on this list." in paper(page, tier="settled").text


def test_what_was_handed_over_says_to_whom_and_what_was_asked(page: Client, family: UUID) -> None:
    handover = domain.Handover(to="physician", name="Dr Ferreira", asked="sodium today")
    entry = entered(handover, infant=an_id("infant 2"), hours_ago=1 / 60)
    record_entries(FAMILY, [entry], now=datetime.now(UTC))
    row = next(one for one in paper(page).of("TR") if one.startswith(NAME))
    assert "Dr Ferreira" in row
    assert "sodium today" in row


def test_language_and_sheet_can_be_chosen_and_nonsense_is_the_clinics_own(
    page: Client, family: UUID
) -> None:
    assert NAME in paper(page, language="es", size="letter").text
    assert NAME in see(page.get("/shift/?language=xx&size=A0").content, language="en").text


def test_only_those_who_signed_in_may_read_it(family: UUID) -> None:
    assert Client().get("/shift/")["Location"].startswith("/sign-in/")


def test_nothing_can_be_sent_to_it(page: Client) -> None:
    assert page.post("/shift/").status_code == 405
