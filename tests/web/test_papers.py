"""The papers of a family: one click away, only for those who signed in, the same file for the same question."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from urllib.parse import parse_qs, urlparse
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import pytest
from django.http import HttpResponse
from django.test import Client

from pdf_reader import Seen, see
from suffice.care.clinic.clinic import change_policy
from suffice.care.family.recording import record_entries
from suffice.clinical import entry as domain
from web.story import FAMILY, NAME, an_id, entered

PAPERS = f"/families/{FAMILY}/papers/"
SECOND = an_id("infant 2")
UNKNOWN = "00000000-0000-4000-8000-000000000000"


def link(page: Client, text: str, path: str = PAPERS) -> str:
    """The address behind a link of the page."""
    html = page.get(path).content.decode()
    found = re.search(rf'<a[^>]*href="([^"]+)"[^>]*>\s*{re.escape(text)}', html)
    assert found is not None, text
    return found[1].replace("&amp;", "&")


def letter(page: Client, **query: str) -> Seen:
    query = {"whose": str(SECOND), **query}
    response = page.get(f"{PAPERS}letter/", query)
    assert response["Content-Type"] == "application/pdf"
    return see(response.content, language=query.get("language", "en"))


def test_the_family_page_and_the_end_of_a_contact_lead_to_the_papers(
    page: Client, family: UUID
) -> None:
    assert link(page, "Letter and other papers", f"/families/{FAMILY}/") == PAPERS
    page.post(f"/families/{FAMILY}/contact/", {"place": "home", "key": str(uuid4())})
    assert link(page, "Letter and other papers", f"/families/{FAMILY}/contact/") == PAPERS


def test_the_letter_that_a_red_flag_asks_for_stands_first_and_is_shown(
    page: Client, family: UUID
) -> None:
    html = page.get(PAPERS).content.decode()
    listed = re.findall(r"Letter to a physician about (\w+)", html)
    assert listed == ["Ben", "Ava", "Oriane", "Ben"]  # the list, then the title of what is shown
    assert "a red flag asks for it" in html
    seen = see(page.get(link(page, "Open to print")).content, language="en")
    assert seen.faults == ()
    assert seen.of("H1")[0].startswith("Please see Ben today")


def enter(fact: domain.AnyFact, infant: UUID | None = None) -> None:
    entry = entered(fact, infant=infant)
    record_entries(FAMILY, [entry], now=datetime.now(UTC), confirmed=True)


def enter_sign(sign: str) -> None:
    """A sign of the parent."""
    enter(domain.Sign(sign=sign, present=True))


def test_a_preview_is_the_page_of_the_file(page: Client, family: UUID) -> None:
    html = page.get(PAPERS).content.decode()
    pictures = re.findall(r'<img src="([^"]+)"', html)
    assert len(pictures) == 1
    response = page.get(pictures[0].replace("&amp;", "&"))
    assert response.content.startswith(b"\x89PNG")
    assert page.get(f"{PAPERS}letter/?page=2").status_code == 404
    assert page.get(f"{PAPERS}letter/?page=0").status_code == 404
    assert page.get(f"{PAPERS}letter/?page=x").status_code == 404


def test_the_same_question_gives_the_same_file_after_later_entries(
    page: Client, family: UUID
) -> None:
    address = link(page, "Open to print")
    first = page.get(address).content
    enter(domain.Weight(weight_g=2700, clothing="naked"), SECOND)
    assert page.get(address).content == first
    assert "2700" in letter(page).text


def test_an_address_names_nobody_and_nothing_found(page: Client, family: UUID) -> None:
    settings = {"clinic_name": "Test clinic", "zone": "Asia/Kolkata"}
    change_policy(an_id("zone"), settings, now=datetime.now(UTC), actor="consultant")
    address = link(page, "Download")
    asked = parse_qs(urlparse(address).query)
    assert set(asked) == {"kind", "whose", "as_of", "language", "size", "download"}
    response = page.get(address)
    # The clinic's clock, as on the paper itself.
    local = datetime.fromisoformat(asked["as_of"][0]).astimezone(ZoneInfo("Asia/Kolkata"))
    named = f'attachment; filename="letter-{local:%Y%m%d-%H%M}.pdf"'
    assert response["Content-Disposition"] == named
    assert response["Cache-Control"] == "no-store"


def test_language_and_sheet_can_be_chosen(page: Client, family: UUID) -> None:
    seen = letter(page, language="es", size="letter")
    assert seen.faults == ()
    assert "Ben" in seen.of("H1")[0]
    wrong = page.get(f"{PAPERS}letter/", {"language": "xx", "size": "A0"})
    assert see(wrong.content, language="en").faults == ()


def test_a_tick_puts_the_sources_behind_a_paper_for_clinicians(page: Client, family: UUID) -> None:
    plain = page.get(PAPERS).content.decode()
    assert 'name="sources" value="1">' in plain
    html = page.get(PAPERS, {"sources": "1"}).content.decode()
    assert 'name="sources" value="1" checked>' in html
    assert html.count("<img") > plain.count("<img")
    address = re.search(r'<a class="button first" href="([^"]+)">Open to print', html)
    assert address is not None
    seen = see(page.get(address[1].replace("&amp;", "&")).content, language="en")
    assert seen.faults == ()
    assert "Sources" in seen.of("H2")
    assert "Sources" not in letter(page).of("H2")
    assert 'name="sources"' not in page.get(PAPERS, {"kind": "log"}).content.decode()


def test_numbers_to_call_are_the_clinics_or_are_asked_for(page: Client, family: UUID) -> None:
    assert "ask the clinic to fill in: ______" in letter(page).text
    settings = {"clinic_name": "Test clinic", "phone_day": "555 0100", "phone_night": "555 0199"}
    change_policy(an_id("phones"), settings, now=datetime.now(UTC), actor="consultant")
    said = letter(page).text
    assert "555\N{NO-BREAK SPACE}0100" in said or "555 0100" in said
    assert "fill in" not in said


@pytest.mark.parametrize("path", [PAPERS, f"{PAPERS}letter/"])
def test_nobody_reads_a_paper_who_has_not_signed_in(path: str, family: UUID) -> None:
    response: HttpResponse = Client().get(path)  # type: ignore[assignment]  # the base of all responses
    assert response.status_code == 302
    assert response["Location"].startswith("/sign-in/")


@pytest.mark.parametrize(
    "path",
    [
        f"/families/{UNKNOWN}/papers/",
        f"/families/{UNKNOWN}/papers/letter/",
        f"{PAPERS}poster/",
        f"{PAPERS}letter/?whose={UNKNOWN}",
        f"{PAPERS}?whose=nobody",
    ],
)
def test_what_is_not_there_is_not_found(page: Client, family: UUID, path: str) -> None:
    assert page.get(path).status_code == 404


def test_the_name_of_the_parent_is_on_the_letter(page: Client, family: UUID) -> None:
    assert NAME in letter(page).text


def test_the_note_of_a_contact_is_offered_once_one_began(page: Client, family: UUID) -> None:
    assert "Consultation note" not in page.get(PAPERS).content.decode()
    assert page.get(f"{PAPERS}note/").status_code == 404
    start = {"place": "home", "key": str(an_id("start")), "goal": "only the breast"}
    page.post(f"/families/{FAMILY}/contact/", start)
    tap = {"key": str(uuid4()), "contact": str(an_id("start")), "what": "gape", "side": "left"}
    tap |= {"infant": str(SECOND), "seen": "", "answer": "short"}
    page.post(f"/families/{FAMILY}/contact/latch/answer/", tap)
    note = see(page.get(f"{PAPERS}note/").content, language="en")
    assert note.faults == ()
    assert "Goal: “only the breast”" in note.text
    assert "in progress" in note.text
    assert any("Short of it" in row for row in note.of("TR"))
    end = {"entry_id": str(uuid4()), "setting": "home", "basis": "observed"}
    end["when"] = f"{datetime.now(UTC):%Y-%m-%dT%H:%M}"
    page.post(f"/families/{FAMILY}/enter/contact/", end)
    again = see(page.get(f"{PAPERS}note/").content, language="en")
    assert "Short of it" in again.text


def test_the_plan_and_the_days_of_each_infant_are_in_the_list(page: Client, family: UUID) -> None:
    html = page.get(PAPERS).content.decode()
    assert "Feeding plan for" not in html
    assert "The first days of Ava" in html
    assert page.get(f"{PAPERS}plan/?whose={SECOND}").status_code == 404
    plan = domain.Plan(move="first", at_breast="every feed", supplement_ml=30, feeds_count=8)
    enter(plan, SECOND)
    assert "Feeding plan for Ben" in page.get(PAPERS).content.decode()
    of_plan = link(page, "Print it for the family", f"/families/{FAMILY}/plan/?infant={SECOND}")
    assert "Feeding plan for Ben" in page.get(of_plan).content.decode()
    seen = see(page.get(f"{PAPERS}plan/?whose={SECOND}").content, language="en")
    assert seen.faults == ()
    assert seen.of("H1") == ["Breast first. Then 30\u00a0mL of milk. Then rest."]
    days = see(page.get(f"{PAPERS}days/?whose={SECOND}").content, language="en")
    assert days.of("H1") == ["Day 11: count the feeds and diapers of Ben"]


def test_a_draft_is_shown_for_its_sheet_alone_and_is_given_to_nobody(
    page: Client, family: UUID
) -> None:
    address = f"/families/{family}/papers/"
    draft = f"{address}?kind=sheet&sheet=waking&language=ar"
    shown = page.get(draft).content.decode()
    assert '<option value="ar" lang="ar" selected>' in shown
    assert "/papers/given/" not in shown
    given = page.post(f"{address}given/?kind=sheet&sheet=waking&language=ar", {"key": str(uuid4())})
    assert given.status_code == 404
    other = page.get(f"{address}?kind=sheet&sheet=latch&language=ar").content.decode()
    assert 'value="ar"' not in other
    file = page.get(f"{address}sheet/?kind=sheet&sheet=waking&language=ar")
    assert see(file.content, language="ar").faults == ()


def test_no_paper_repeats_a_private_matter(page: Client, family: UUID) -> None:
    enter_sign("not_safe_now")
    html = page.get(f"/families/{FAMILY}/").content.decode()
    screen, paper = html.split('<article class="paper')
    assert "Private matter" in screen
    assert "rivate matter" not in paper.split("</article>")[0]
    assert "rivate matter" not in letter(page, whose="").text
    assert "rivate matter" not in letter(page).text


def test_a_parent_in_an_emergency_stands_before_an_infant_who_can_wait(
    page: Client, family: UUID
) -> None:
    def places() -> tuple[int, int]:
        html = page.get(f"/families/{FAMILY}/").content.decode()
        return html.index("For the parent:"), html.index('id="answer-')

    enter_sign("low_mood")
    parent, infant = places()
    assert infant < parent
    enter_sign("chest_pain")
    parent, infant = places()
    assert parent < infant
    html = page.get(f"/families/{FAMILY}/").content.decode()
    paper = html.split('<article class="paper')[1]
    assert paper.index('class="paper-parent"') < paper.index('class="paper-infant"')
