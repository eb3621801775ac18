"""Signing a note, amending it, and putting down that a paper was given."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import msgspec
import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client

from pdf_reader import Seen, see
from suffice.care.clinic.clinic import change_policy
from suffice.care.family.recording import correct_entry, record_entries, withdraw_entry
from suffice.clinical import entry as domain
from suffice.errors import InputError
from suffice.record import append_only, models, repository
from web.story import FAMILY, an_id

PAPERS = f"/families/{FAMILY}/papers/"
SECOND = an_id("infant 2")


def visit(page: Client, *, ended: bool = True) -> None:
    """A contact with one finding and one weight, over or not."""
    page.post(f"/families/{FAMILY}/contact/", {"place": "home", "key": str(an_id("start"))})
    tap = {"key": str(an_id("tap")), "contact": str(an_id("start")), "what": "gape", "side": "left"}
    tap |= {"infant": str(SECOND), "seen": "", "answer": "short"}
    page.post(f"/families/{FAMILY}/contact/latch/answer/", tap)
    now = datetime.now(UTC)
    record_entries(FAMILY, [weight(2650, now)], now=now, confirmed=True)
    if ended:
        now = datetime.now(UTC)
        fact = domain.Contact(setting=domain.Setting.HOME, contact_id=an_id("start"))
        over = msgspec.structs.replace(weight(0, now, "end"), fact=fact, infant_id=None)
        record_entries(FAMILY, [over], now=now, confirmed=True)


def weight(weight_g: float, now: datetime, name: str = "weighed") -> domain.Entry:
    return domain.Entry(
        id=an_id(name),
        fact=domain.Weight(weight_g=weight_g, clothing="naked"),
        basis=domain.Basis.MEASURED,
        true_at=now,
        entered_at=now,
        entered_by="consultant",
        infant_id=SECOND,
    )


def hidden(html: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', html)
    assert found is not None, name
    return found[1]


def action(html: str, ending: str) -> str:
    found = re.search(rf'action="([^"]*/{ending}/[^"]*)"', html)
    assert found is not None, ending
    return found[1].replace("&amp;", "&")


def sign(page: Client) -> str:
    """Sign the note as a browser does; the page that follows."""
    html = page.get(f"{PAPERS}?kind=note").content.decode()
    sent = {"seen": hidden(html, "seen")}
    return page.post(action(html, "sign"), sent, follow=True).content.decode()


def signed() -> domain.Entry:
    found = [one for one in repository.read(FAMILY).entries if _is_signed(one)]
    assert len(found) == 1
    return found[0]


def _is_signed(entry: domain.Entry) -> bool:
    return isinstance(entry.fact, domain.SignedNote)


def file_of(page: Client, kind: str) -> bytes:
    return page.get(f"{PAPERS}{kind}/").content


def read(pdf: bytes, language: str = "en") -> Seen:
    seen = see(pdf, language=language)
    assert seen.faults == ()
    return seen


def amend(page: Client, text: str, key: UUID | None = None) -> str:
    sent = {"note": str(signed().id), "text": text, "key": str(key or uuid4())}
    return page.post(f"{PAPERS}amend/", sent, follow=True).content.decode()


def test_what_is_signed_says_who_and_when_and_stays_to_the_byte(page: Client, family: UUID) -> None:
    visit(page)
    html = sign(page)
    assert "Signed by consultant" in html
    assert 'name="seen"' not in html
    first = file_of(page, "signed")
    assert "Signed by consultant" in read(first).text
    assert "Not signed" not in read(first).text
    now = datetime.now(UTC)
    record_entries(FAMILY, [weight(2700, now, "later")], now=now, confirmed=True)
    settings = {"clinic_name": "Another name", "language": "es"}
    change_policy(an_id("policy"), settings, now=now, actor="consultant")
    assert file_of(page, "signed") == first
    assert page.get(f"{PAPERS}note/").status_code == 404


def test_a_note_that_is_shown_with_its_sources_is_signed_with_them(
    page: Client, family: UUID
) -> None:
    visit(page)
    html = page.get(f"{PAPERS}?kind=note&sources=1").content.decode()
    assert "sources=1" in action(html, "sign")
    page.post(action(html, "sign"), {"seen": hidden(html, "seen")}, follow=True)
    assert signed()
    assert "Sources" in read(file_of(page, "signed")).of("H2")


def test_the_page_says_when_the_file_is_set_otherwise_than_on_the_day(
    page: Client, family: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    visit(page)
    assert "set by a later template" not in sign(page)
    monkeypatch.setattr("suffice.web.papers.acts.file_digest_of", lambda _pdf: "another")
    html = page.get(f"{PAPERS}?kind=signed").content.decode()
    assert "The file is set by a later template" in html


def test_a_contact_in_progress_is_not_signed(page: Client, family: UUID) -> None:
    visit(page, ended=False)
    html = page.get(f"{PAPERS}?kind=note").content.decode()
    assert "can be signed once it has ended" in html
    said = page.post(f"{PAPERS}sign/", {"seen": "x"}, follow=True).content.decode()
    assert "SIGN-001" in said
    assert not any(map(_is_signed, repository.read(FAMILY).entries))


def test_what_was_not_shown_is_not_signed(page: Client, family: UUID) -> None:
    visit(page)
    html = page.get(f"{PAPERS}?kind=note").content.decode()
    seen = hidden(html, "seen")
    changed = {"clinic_name": "Another name"}
    change_policy(an_id("policy"), changed, now=datetime.now(UTC), actor="consultant")
    said = page.post(action(html, "sign"), {"seen": seen}, follow=True).content.decode()
    assert "SIGN-003" in said
    assert not any(map(_is_signed, repository.read(FAMILY).entries))


def test_a_second_press_and_a_second_person_change_nothing(
    page: Client, colleague: User, family: UUID
) -> None:
    visit(page)
    html = page.get(f"{PAPERS}?kind=note").content.decode()
    sent, where = {"seen": hidden(html, "seen")}, action(html, "sign")
    page.post(where, sent)
    page.post(where, sent)
    other = Client()
    other.force_login(colleague)
    assert "SIGN-002" in other.post(where, sent, follow=True).content.decode()
    assert signed().entered_by == "consultant"


def test_an_amendment_is_named_and_shown_with_the_note_that_stays(
    page: Client, colleague: User, family: UUID
) -> None:
    visit(page)
    sign(page)
    first = file_of(page, "signed")
    other = Client()
    other.force_login(colleague)
    key = uuid4()
    for _press in range(2):
        html = amend(other, "The left side was seen <twice>.", key)
    assert "Amendment by colleague" in html
    assert "seen &lt;twice&gt;" in html
    assert file_of(page, "signed") == first
    together = read(file_of(page, "amended"))
    items = [one for one in together.of("LBody") if "The left side was seen <twice>." in one]
    assert len(items) == 1
    assert "colleague" in together.text
    assert together.of("H1") == read(first).of("H1")
    assert together.of("H2") == [*read(first).of("H2"), "Amendments"]
    amend(page, "And once more.")
    items = [one for one in read(file_of(page, "amended")).of("LBody") if "consultant, " in one]
    assert [one.endswith("And once more.") for one in items] == [True]


def test_an_empty_amendment_or_one_to_nothing_is_refused(page: Client, family: UUID) -> None:
    visit(page)
    sign(page)
    assert "SIGN-004" in amend(page, "  ")
    nowhere = {"note": str(uuid4()), "text": "x", "key": str(uuid4())}
    assert "SIGN-005" in page.post(f"{PAPERS}amend/", nowhere, follow=True).content.decode()
    wrong = {"note": "x", "text": "x", "key": "y"}
    assert page.post(f"{PAPERS}amend/", wrong).status_code == 400
    assert page.post(f"{PAPERS}amend/", nowhere | {"text": "x" * 5001}).status_code == 400


def test_an_entry_that_is_corrected_under_a_signed_note_is_said_on_it(
    page: Client, family: UUID
) -> None:
    visit(page)
    sign(page)
    first = file_of(page, "signed")
    assert "Changed since it was signed" not in page.get(f"{PAPERS}?kind=signed").content.decode()
    now = datetime.now(UTC)
    corrected = msgspec.structs.replace(weight(2560, now, "corrected"), true_at=now)
    correct_entry(FAMILY, an_id("weighed"), corrected, now=now, confirmed=True)
    withdraw_entry(
        FAMILY, an_id("tap"), withdrawal_id=uuid4(), reason="wrong twin", now=now, actor="colleague"
    )
    html = page.get(f"{PAPERS}?kind=signed").content.decode()
    assert html.count("Changed since it was signed:") == 2
    assert file_of(page, "signed") == first
    seen = read(file_of(page, "amended"))
    assert "Entries changed since the note was signed" in seen.of("H2")
    changed = [one for one in seen.of("LBody") if one.startswith("Number ")]
    assert len(changed) == 2
    assert any("2650" in one and "Now 2560" in one for one in changed)
    assert any("wrong twin" in one and "Withdrawn by colleague" in one for one in changed)


def test_what_was_signed_is_neither_corrected_nor_withdrawn(page: Client, family: UUID) -> None:
    visit(page)
    sign(page)
    amend(page, "More.")
    for one in repository.read(FAMILY).entries:
        if not isinstance(one.fact, domain.SignedNote | domain.Amendment):
            continue
        for what in ("correct", "withdraw"):
            address = f"/families/{FAMILY}/entries/{one.id}/{what}/"
            assert page.get(address).status_code == 404
            assert page.post(address, {}).status_code == 404
        with pytest.raises(InputError, match="RECORD-013"):
            withdraw_entry(
                FAMILY, one.id, withdrawal_id=uuid4(), reason="x", now=datetime.now(UTC), actor="x"
            )
    for kind in ("signed-note", "amendment", "paper-given"):
        assert page.get(f"/families/{FAMILY}/enter/{kind}/").status_code == 404


def test_a_note_that_was_changed_in_the_database_is_not_shown(page: Client, family: UUID) -> None:
    """Somebody who writes past the program: the digest gives it away."""
    visit(page)
    sign(page)
    row = models.Entry.objects.get(id=signed().id)
    fact = {**row.fact, "words": row.fact["words"][:-8] + "AAAAAAA="}
    connection.check_constraints()  # no table is altered while one waits to be checked
    append_only.remove(connection)
    models.Entry.objects.filter(id=row.id).update(fact=fact)
    connection.check_constraints()
    append_only.install(connection)
    response = page.get(f"{PAPERS}signed/")
    assert response.status_code == 503
    assert "PAPER-002" in response.content.decode()


def test_a_note_in_spanish_stays_spanish_and_so_does_what_is_added(
    page: Client, family: UUID
) -> None:
    visit(page)
    html = page.get(f"{PAPERS}?kind=note&language=es&size=letter").content.decode()
    page.post(action(html, "sign"), {"seen": hidden(html, "seen")})
    amend(page, "Algo más.")
    for kind in ("signed", "amended"):
        seen = read(file_of(page, kind), "es")
        assert seen.of("H1")[0].startswith("Nota")


# ---- given -------------------------------------------------------------------------------------


def give(page: Client, query: str) -> str:
    html = page.get(f"{PAPERS}?{query}").content.decode()
    sent = {"key": hidden(html, "key")}
    page.post(action(html, "given"), sent)
    return page.post(action(html, "given"), sent, follow=True).content.decode()


def test_a_paper_is_put_down_as_given_once_with_one_tap(page: Client, family: UUID) -> None:
    said = give(page, f"kind=days&whose={SECOND}&language=es")
    assert "Put down as given" in said
    given = [
        one for one in repository.read(FAMILY).entries if isinstance(one.fact, domain.PaperGiven)
    ]
    assert [one.infant_id for one in given] == [SECOND]
    fact = given[0].fact
    assert isinstance(fact, domain.PaperGiven)
    assert (fact.paper, fact.language) == ("days", "es")
    html = page.get(f"/families/{FAMILY}/").content.decode()
    assert "Papers given" in html
    assert "Spanish" in html
    assert fact.origin is not None
    assert fact.origin.content_version in html


def test_what_was_given_is_made_again_and_says_whether_it_is_the_same(
    page: Client, family: UUID
) -> None:
    give(page, f"kind=days&whose={SECOND}")
    html = page.get(f"/families/{FAMILY}/").content.decode()
    link = re.search(r'href="([^"]+given=[^"]+)"', html)
    assert link is not None
    address = link[1].replace("&amp;", "&")
    assert "made again with the same words" in page.get(address).content.decode()
    now = datetime.now(UTC) + timedelta(seconds=1)
    changed = {"clinic_name": "Another", "phone_day": "555 0100"}
    change_policy(an_id("policy"), changed, now=now, actor="consultant")
    assert "it has other words" in page.get(address).content.decode()
    elsewhere = re.sub(r"given=[^&]+", f"given={uuid4()}", address)
    assert page.get(elsewhere).status_code == 404


def test_a_note_is_not_handed_to_the_family_from_here(page: Client, family: UUID) -> None:
    visit(page)
    html = page.get(f"{PAPERS}?kind=note").content.decode()
    assert "/papers/given/" not in html
    query = action(html, "sign").partition("?")[2]
    sent = {"key": str(uuid4())}
    assert page.post(f"{PAPERS}given/?{query}", sent).status_code == 404


def test_a_paper_with_its_sources_is_not_put_down_as_given(page: Client, family: UUID) -> None:
    """A family is given the paper alone, so that it can be made again as it was given."""
    query = "kind=discharge&whose=parent"
    assert "/papers/given/" in page.get(f"{PAPERS}?{query}").content.decode()
    assert "/papers/given/" not in page.get(f"{PAPERS}?{query}&sources=1").content.decode()
    sent = {"key": str(uuid4())}
    assert page.post(f"{PAPERS}given/?{query}&sources=1", sent).status_code == 404


def test_a_teaching_sheet_that_was_given_names_its_topic(page: Client, family: UUID) -> None:
    give(page, "kind=sheet&sheet=latch&language=es")
    html = page.get(f"/families/{FAMILY}/").content.decode()
    assert "sheet=latch" in html


@pytest.mark.parametrize("what", ["sign", "amend", "given"])
def test_only_those_who_signed_in_may(what: str, family: UUID) -> None:
    response = Client().post(f"{PAPERS}{what}/", {})
    assert response["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("what", ["sign", "amend", "given"])
def test_an_address_that_is_only_read_changes_nothing(
    what: str, page: Client, family: UUID
) -> None:
    assert page.get(f"{PAPERS}{what}/").status_code == 405
