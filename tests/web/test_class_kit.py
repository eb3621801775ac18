"""The kit of a class is reached from the Library and from a contact of that place, in both languages."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest
from django.test import Client

from pdf_reader import see


@pytest.fixture
def kit(page: Client) -> str:
    """The page of the kit."""
    return page.get("/library/class/").content.decode()


def test_the_library_leads_to_it_and_it_to_both_papers(page: Client, kit: str) -> None:
    assert 'href="/library/class/"' in page.get("/library/").content.decode()
    assert 'formaction="/library/class/deck/"' in kit
    assert 'formaction="/library/class/handout/"' in kit
    assert "Bring your baby deep onto the breast" in kit
    assert "Help sore nipples heal" not in kit, "a sheet without a fact for a class"


@pytest.mark.parametrize(("language", "says"), [("en", "Call now: "), ("es", "Llame ya: ")])
@pytest.mark.parametrize("which", ["deck", "handout"])
def test_a_paper_comes_in_the_language_that_is_asked_for(
    page: Client, which: str, language: str, says: str
) -> None:
    answer = page.get(f"/library/class/{which}/?language={language}&size=letter")
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'inline; filename="class-{which}-{language}.pdf"'
    seen = see(answer.content, language=language)
    assert seen.faults == ()
    assert says in seen.text


def test_what_nobody_offers_is_not_there_and_what_is_unknown_falls_back(page: Client) -> None:
    assert page.get("/library/class/poster/").status_code == 404
    assert page.get("/library/class/deck/?language=tlh&size=A0").status_code == 200


@pytest.mark.parametrize(("place", "offered"), [("class", True), ("home", False)])
def test_a_contact_of_a_class_offers_it(
    page: Client, family: UUID, place: str, offered: bool
) -> None:
    address = f"/families/{family}/contact/"
    sent = {"key": str(uuid4()), "place": place}
    page.post(address, sent)
    html = page.get(address).content.decode()
    assert ("Deck and handout of the class" in html) is offered
    assert 'href="/library/class/"' in html  # elsewhere a link among the other papers
