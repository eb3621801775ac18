"""Every page is declared to the trail; who did what is told to who may know, and to each family's page."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import UTC, datetime
from typing import get_args
from uuid import UUID, uuid4

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import get_resolver, reverse
from django.urls.resolvers import URLPattern

from suffice.care import trail
from suffice.care.clinic.clinic import change_policy
from suffice.care.clinic.noted import note
from suffice.care.trail import Act, Asked, Event, Kept
from suffice.documents.folder import PaperKind
from suffice.knowledge.store import load
from suffice.record import teams
from suffice.web.trail.acts import PAGES
from suffice.web.trail.keys import PAPERS
from suffice.web.trail.page import csv_of, lines_of
from web.story import FAMILY, NAME, PASSPHRASE, an_id

FAMILY_PAGE = f"/families/{FAMILY}/"
PHOTOGRAPH = an_id("no photograph")


@pytest.fixture(autouse=True)
def _home(settings, tmp_path) -> None:
    settings.HOME = tmp_path


def noted(**asked) -> list[Event]:
    """What was noted, the oldest first."""
    return list(trail.every(Asked(**asked)))


def acts(**asked) -> list[tuple[str, str]]:
    return [(one.act, one.page) for one in noted(**asked)]


def test_every_address_is_declared_once_and_no_other() -> None:
    names = {
        one.name
        for one in get_resolver().url_patterns
        if isinstance(one, URLPattern) and one.name is not None
    }
    assert names == set(PAGES), "declare each address in web/trail/acts.py"


def test_every_address_about_a_family_is_noted() -> None:
    for one in get_resolver().url_patterns:
        if "family_id" in str(one.pattern) and one.name != "family-next":
            page = PAGES[one.name]
            silent = page.asked is None and page.sent is None
            assert not silent or one.name == "feed-reading", one.name


@pytest.mark.parametrize(
    ("address", "act", "name", "about"),
    [
        ("/", Act.LIST, "caseload", ""),
        (FAMILY_PAGE, Act.READ, "family", ""),
        (f"{FAMILY_PAGE}?print=1", Act.PRINT, "family", ""),
        (f"{FAMILY_PAGE}entries/", Act.READ, "family-entries", ""),
        (f"{FAMILY_PAGE}enter/weight/", Act.READ, "entry-new", "weight"),
        (f"{FAMILY_PAGE}papers/", Act.READ, "papers", ""),
        (f"{FAMILY_PAGE}papers/letter/", Act.PRINT, "paper", "letter"),
        (f"{FAMILY_PAGE}export/", Act.EXPORT, "export", ""),
        (f"{FAMILY_PAGE}photograph/{PHOTOGRAPH}/picture/", Act.READ, "photograph-picture", ""),
    ],
)
def test_what_is_read_printed_or_exported_is_noted(
    page: Client, family: UUID, address: str, act: Act, name: str, about: str
) -> None:
    trail.flush()
    status = page.get(address, REMOTE_ADDR="10.1.2.3").status_code
    event = noted()[-1]
    assert (event.who, event.act, event.page, event.about) == ("consultant", act, name, about)
    assert event.family_id == (None if address == "/" else FAMILY)
    assert (event.method, event.status, event.address) == ("GET", status, "10.1.2.3")


def test_what_is_entered_and_searched_is_noted_without_what_was_typed(
    page: Client, weigh: Callable[..., dict[str, str]]
) -> None:
    page.post(f"{FAMILY_PAGE}enter/weight/", weigh())
    page.post("/", {"q": NAME})
    assert acts()[-2:] == [("enter", "entry-new"), ("search", "caseload")]
    told = repr(noted())
    assert NAME not in told
    assert "3150" not in told


def test_what_was_typed_into_an_address_is_not_noted(page: Client, family: UUID) -> None:
    assert page.get(f"{FAMILY_PAGE}enter/anna-smith/").status_code == 404
    event = noted()[-1]
    assert (event.page, event.status, event.about) == ("entry-new", 404, "")


def test_signing_in_and_out_and_failing_are_noted(consultant: User) -> None:
    browser = Client()
    browser.post("/sign-in/", {"username": "consultant", "password": "a wrong one here"})
    browser.post("/sign-in/", {"username": "my secret passphrase", "password": "x"})
    browser.post("/sign-in/", {"username": "consultant", "password": PASSPHRASE})
    browser.post("/sign-out/")
    told = [(one.act, one.who) for one in noted()]
    assert told == [
        ("sign-in-failed", "consultant"),
        ("sign-in-failed", ""),
        ("sign-in", "consultant"),
        ("sign-out", "consultant"),
    ]
    assert "my secret" not in repr(noted())


def test_who_must_wait_for_the_next_try_is_noted(consultant: User) -> None:
    browser = Client()
    wrong = {"username": "consultant", "password": "a wrong one here"}
    answers = [browser.post("/sign-in/", wrong).status_code for _ in range(7)]
    assert answers[-1] == 429
    assert [one.act for one in noted()] == ["sign-in-failed"] * 7
    assert noted()[-1].status == 429


def test_changes_of_people_and_policy_are_noted(page: Client) -> None:
    page.post("/users/", {"name": "x"})
    page.post("/policy/", {})
    page.post("/account/", {"full_name": "A. Consultant"})
    told = [one for one in acts() if one[0] in {"people", "policy", "account"}]
    assert told == [
        ("people", "people"),
        ("policy", "policy"),
        ("people", "user.renamed"),
        ("account", "account"),
    ]


def test_what_shows_nothing_of_a_family_and_changes_nothing_is_not_noted(page: Client) -> None:
    for address in ("/help/", "/bench/", "/library/", "/policy/", "/users/", "/account/"):
        page.get(address)
    assert acts() == [("sign-in", "sign-in")]


def test_a_stranger_leaves_no_event(family: UUID) -> None:
    Client().get(FAMILY_PAGE)
    assert noted(act="read") == []


def test_a_list_that_renews_itself_is_not_noted_again(page: Client, family: UUID) -> None:
    page.get("/")
    page.get("/", headers={"HX-Request": "true"})
    assert [one.act for one in noted(act="list")] == ["list"]


def test_the_familys_page_tells_who_has_seen_it(
    page: Client, family: UUID, colleague: User
) -> None:
    other = Client()
    other.force_login(colleague)
    other.get(f"{FAMILY_PAGE}papers/letter/")
    answer = page.get(f"{FAMILY_PAGE}seen/")
    shown = " ".join(answer.content.decode().split())
    assert "colleague" in shown
    assert "asked for on paper: a paper: letter" in shown
    assert f'href="{FAMILY_PAGE}seen/"' in page.get(FAMILY_PAGE).content.decode()
    assert NAME not in shown.split("</title>")[0]


def test_the_trail_is_for_those_who_may_and_reading_it_is_noted(
    page: Client, family: UUID, colleague: User
) -> None:
    other = Client()
    other.force_login(colleague)
    for address in ("/trail/", "/trail/export/"):
        assert other.get(address).status_code == 403
    assert 'href="/trail/"' not in other.get("/help/").content.decode()
    assert page.get("/trail/").status_code == 200
    assert [(one.who, one.page, one.status) for one in noted(act="trail")] == [
        ("colleague", "trail", 403),
        ("consultant", "trail", 200),
    ]


def test_the_trail_can_be_searched(page: Client, family: UUID) -> None:
    page.get(FAMILY_PAGE)
    page.get(f"{FAMILY_PAGE}export/")
    found = page.get("/trail/", {"act": "export", "family": str(FAMILY)}).content.decode()
    assert "the family as a file" in found
    assert "read: the family" not in " ".join(found.split())
    none = page.get("/trail/", {"since": "2000-01-01", "until": "2000-01-02"}).content.decode()
    assert "Nothing was noted." in none
    wrong = page.get("/trail/", {"family": "no id", "who": "nobody", "since": "x", "before": "²"})
    assert wrong.status_code == 200


def test_more_events_than_a_page_holds_are_on_the_next(
    page: Client, family: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("suffice.web.trail.views.SHOWN", 2)
    for kind in ("weight", "feed", "stool"):
        page.get(f"{FAMILY_PAGE}enter/{kind}/")
    first = page.get("/trail/").content.decode()
    assert "a form: Stool" in first
    assert "a form: Weight" not in first
    older = first.split('rel="next" href="')[1].split('"')[0].replace("&amp;", "&")
    assert "a form: Weight" in page.get(f"/trail/{older}").content.decode()


def test_the_trail_is_exported_as_a_table(page: Client, family: UUID) -> None:
    page.get(FAMILY_PAGE)
    answer = page.get("/trail/export/", {"act": "read"})
    assert answer["Cache-Control"] == "no-store"
    text = b"".join(answer.streaming_content).decode()  # type: ignore[attr-defined]
    (row,) = csv.DictReader(io.StringIO(text))
    assert (row["who"], row["act"], row["page"]) == ("consultant", "read", "family")
    assert row["family_id"] == str(FAMILY)
    assert acts()[-1] == ("export", "trail-export")


def test_keys_are_told_by_their_names_in_either_language(page: Client, family: UUID) -> None:
    page.get(f"{FAMILY_PAGE}contact/nipple/")
    page.get(f"{FAMILY_PAGE}papers/letter/")
    team = teams.first_team(now=datetime.now(UTC))
    note("family.passed-on", by="consultant", family_id=FAMILY, about=str(team))
    note("user.role", by="consultant", about="ben", why=f"lead in {team}")
    note("user.role", by="consultant", about="ben", why=f"none in {team}")
    note("user.duty", by="consultant", about="ben", why="auditor True")
    name = teams.team_names()[team]
    for language, said in (
        ("en", (": Nipple", ": letter", f"passed on: {name}", f"Lead ({name})", "Auditor: Yes")),
        ("es", (": Pezón", ": carta", f": {name}", f"Sin función ({name})", "Auditor: Sí")),
    ):
        settings = {"language": language, "clinic_name": "A clinic"}
        change_policy(uuid4(), settings, now=datetime.now(UTC), actor="consultant")
        shown = " ".join(page.get("/trail/").content.decode().split())
        for words in said:
            assert words in shown
        for raw in ("<code>nipple", "<code>letter", f"<code>{team}", f"in {team}", "auditor True"):
            assert raw not in shown


def test_a_key_that_is_none_of_ours_any_more_stays_as_it_was_noted() -> None:
    for page, about, why in (
        ("contact-part", "gone", ""),
        ("paper", "gone", ""),
        ("family.passed-on", "gone", ""),
        ("user.role", "ben", "warden in the tower"),
        ("user.duty", "ben", "warden True"),
        ("family.opened-in-emergency", "", "called from ward 3 in the night"),
    ):
        event = Event(
            id=uuid4(), at=datetime.now(UTC), who="ada", act="read", page=page, about=about, why=why
        )
        (line,) = lines_of([Kept(number=1, event=event)], load(), {})
        assert (line.key, line.why) == (about, why)


def test_every_kind_of_paper_has_a_name_on_the_trail() -> None:
    assert set(PAPERS) == set(get_args(PaperKind))


def test_what_was_sent_and_not_taken_is_told_apart_from_a_change(page: Client) -> None:
    page.post("/account/", {"full_name": "x" * 200})
    shown = " ".join(page.get("/trail/").content.decode().split())
    assert "changed their account: their account <strong>(sent, and not taken)" in shown
    page.post("/account/", {"full_name": "A. Consultant"})
    newest = trail.events(Asked(act="account"), most=1)
    (line,) = [one for one in lines_of(newest, load(), {}) if not one.is_refused]
    assert not line.is_not_taken


def test_saying_that_a_script_asks_hides_no_look_at_another_list(
    page: Client, family: UUID
) -> None:
    """Only the list that was noted last is renewed unseen."""
    script = {"HX-Request": "true"}

    def lists() -> int:
        trail.flush()
        return len(acts(act=Act.LIST))

    page.get("/?whole=1", headers=script)
    assert lists() == 1
    page.get("/?whole=1", headers=script)
    assert lists() == 1
    page.get("/?list=recent&discharged=1", headers=script)
    assert lists() == 2
    page.get("/?list=recent&discharged=1&page=2", headers=script)
    assert lists() == 3
    page.get(reverse("pass-list-on"), headers=script)
    assert lists() == 4


def test_a_method_that_somebody_made_up_fills_no_trail(page: Client, family: UUID) -> None:
    page.generic("X" * 5000, f"{FAMILY_PAGE}plan/")
    trail.flush()
    (event,) = [one for one in trail.every(Asked(who="consultant")) if one.method.startswith("X")]
    assert (event.method, event.status) == ("X" * 10, 405)


@pytest.mark.parametrize("begins", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＠"])
def test_no_reason_is_a_formula_in_a_spreadsheet(begins: str) -> None:
    why = f'{begins}HYPERLINK("http://elsewhere.example")'
    event = Event(id=uuid4(), at=datetime.now(UTC), who="x", act="read", page="family", why=why)
    (row,) = csv.DictReader(io.StringIO("".join(csv_of([event])), newline=""))
    assert row["why"] == f"'{why}"
