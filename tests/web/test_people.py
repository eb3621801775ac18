"""Users: inviting by a link, what a person may do, resetting, deactivating; a user's own account."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from uuid import UUID

import pytest
from django.contrib.auth.models import User
from django.test import Client

from members import a_member
from suffice.care.clinic import accounts
from suffice.record import teams
from web.story import PASSPHRASE

GOOD = "seven calm green herons"
OTHER = UUID("11111111-0000-4000-8000-000000000000")
LINK = re.compile(r"http://testserver(/welcome/[\w-]{20,}/)")


def invite(page: Client, **changed: str) -> str:
    sent = {"name": "ines", "full_name": "Ines Testcase", "role": "consultant"} | changed
    return page.post("/users/", sent).content.decode()


def link_in(html: str) -> str:
    found = LINK.search(html)
    assert found is not None, html
    return found[1]


def signs_in(name: str, passphrase: str = GOOD) -> Client | None:
    client = Client()
    answer = client.post("/sign-in/", {"username": name, "password": passphrase})
    return client if answer.status_code == 302 else None


def test_one_is_invited_by_a_link_that_is_shown_once(page: Client) -> None:
    html = invite(page, profession="midwife")
    link = link_in(html)
    assert "It is shown only now" in html
    listed = page.get("/users/").content.decode()
    assert "Has a one-time link until" in listed
    assert link not in listed
    stranger = Client()
    assert "You sign in as <strong>ines</strong>" in stranger.get(link).content.decode()
    short = stranger.post(link, {"passphrase": "short", "again": "short"})
    assert "USER-003" in short.content.decode()
    differ = stranger.post(link, {"passphrase": GOOD, "again": GOOD + " x"})
    assert "USER-004" in differ.content.decode()
    assert stranger.post(link, {"passphrase": GOOD, "again": GOOD})["Location"] == "/sign-in/"
    assert signs_in("ines") is not None
    again = stranger.post(link, {"passphrase": PASSPHRASE, "again": PASSPHRASE})
    assert (again.status_code, "USER-009" in again.content.decode()) == (404, True)
    assert signs_in("ines", PASSPHRASE) is None


@pytest.mark.parametrize(
    ("origin", "begins"),
    [
        ("http://testserver:8443", "http://testserver:8443/welcome/"),
        ("http://testserver", "http://testserver/welcome/"),
        ("http://elsewhere.example", "http://testserver/welcome/"),
        ("https://testserver:8443", "http://testserver/welcome/"),
        ("null", "http://testserver/welcome/"),
    ],
)
def test_a_link_has_the_port_that_a_proxy_left_out(page: Client, origin: str, begins: str) -> None:
    """A proxy that names the host alone: the browser says where the form came from."""
    sent = {"name": "ines", "role": "consultant"}
    assert begins in page.post("/users/", sent, headers={"Origin": origin}).content.decode()


def test_a_page_with_a_link_is_kept_by_no_browser(page: Client) -> None:
    answer = page.post("/users/", {"name": "ines", "role": "reader"})
    assert "no-store" in answer["Cache-Control"]
    assert "no-store" in Client().get(link_in(answer.content.decode()))["Cache-Control"]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"name": "consultant"}, "USER-002"),
        ({"name": "No Spaces"}, "USER-001"),
        ({"full_name": "x" * 61}, "FORM-"),
        ({"role": "king"}, "FORM-002"),
    ],
)
def test_one_who_cannot_be_invited_is_told_why(
    page: Client, changed: dict[str, str], words: str
) -> None:
    assert words in invite(page, **changed)
    assert not User.objects.filter(username="ines").exists()


@pytest.mark.parametrize(
    ("role", "shown"), [("reader", "Reader"), ("lead", "Lead"), ("auditor", "Auditor")]
)
def test_the_list_says_what_each_may_do(page: Client, role: str, shown: str) -> None:
    invite(page, role=role)
    html = " ".join(page.get("/users/").content.decode().split())
    assert f"<td> {shown} </td>" in html


def test_a_lead_offers_no_duties_and_sees_only_roles_of_the_own_team(page: Client) -> None:
    teams.add_team(OTHER, "Night ward", now=datetime.now(UTC))
    client = Client()
    client.force_login(a_member("lena", "lead", team=OTHER))
    html = client.get("/users/").content.decode()
    assert 'value="reader"' in html
    assert 'value="administrator"' not in html
    assert 'name="team"' not in html
    invite(client)
    assert accounts.person_called("ines").roles.keys() == {OTHER}
    assert client.post("/users/consultant/", {"do": "reset"}).status_code == 403


def test_a_person_is_reset_and_out_at_once(page: Client) -> None:
    link = link_in(invite(page))
    Client().post(link, {"passphrase": GOOD, "again": GOOD})
    ines = signs_in("ines")
    assert ines is not None
    reset = page.post("/users/ines/", {"do": "reset"}).content.decode()
    assert "every session has ended" in reset
    assert ines.get("/")["Location"].startswith("/sign-in/")
    assert signs_in("ines") is None
    Client().post(link_in(reset), {"passphrase": GOOD, "again": GOOD})
    assert signs_in("ines") is not None


def test_role_duty_name_sessions_and_deactivating(page: Client) -> None:
    a_member("ines", passphrase=GOOD)
    ines = signs_in("ines")
    assert ines is not None
    at = "/users/ines/"
    page.post(at, {"do": "role", "team": str(teams.FIRST_TEAM), "role": "reader"})
    page.post(at, {"do": "duty-auditor"})
    page.post(at, {"do": "names", "full_name": "Ines", "profession": "midwife"})
    found = accounts.person_called("ines")
    assert [*found.roles.values(), *found.duties] == ["reader", "auditor"]
    assert (found.account.called, found.account.profession) == ("Ines", "midwife")
    page.post(at, {"do": "end-sessions"})
    assert ines.get("/")["Location"].startswith("/sign-in/")
    page.post(at, {"do": "deactivate"})
    assert signs_in("ines") is None
    assert "Deactivated" in page.get("/users/").content.decode()
    page.post(at, {"do": "activate"})
    assert signs_in("ines") is not None


@pytest.mark.parametrize(
    "sent",
    [
        {"do": "role", "team": "x", "role": "lead"},
        {"do": "role", "team": str(OTHER), "role": "lead"},
        {"do": "role", "team": str(teams.FIRST_TEAM), "role": "king"},
        {"do": "duty-king"},
        {"do": "names", "full_name": "x" * 61},
        {},
    ],
)
def test_what_cannot_be_meant_changes_nothing(page: Client, sent: dict[str, str]) -> None:
    a_member("ines")
    before = accounts.person_called("ines")
    assert page.post("/users/ines/", sent).status_code == 200
    assert accounts.person_called("ines") == before


def test_somebody_who_is_not_there_is_said(page: Client) -> None:
    answer = page.get("/users/nobody/")
    assert (answer.status_code, "USER-010" in answer.content.decode()) == (400, True)


def test_one_changes_the_own_name_and_profession_and_no_role(page: Client) -> None:
    page.post("/account/", {"full_name": "Marta", "profession": "nurse", "role": "reader"})
    found = accounts.person_called("consultant")
    assert (found.account.called, found.account.profession) == ("Marta", "nurse")
    assert list(found.roles.values()) == ["lead"]
    assert "Lead, Administrator" in page.get("/account/").content.decode()


def test_a_token_with_odd_characters_is_no_link(db: None) -> None:
    for token in ("x", "%00", "é" * 10, "a" * 5000):
        assert Client().get(f"/welcome/{token}/").status_code == 404
