"""Signing in and out, the first user, passphrases."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.http import HttpResponse
from django.test import Client

from suffice.care.clinic.clinic import change_policy
from suffice.web.people import views as session
from web.story import PASSPHRASE
from web.ticking import Clock

GOOD = "seven calm green herons"


@pytest.mark.django_db
def test_first_visit_leads_to_naming_the_first_user_who_may_add_others() -> None:
    client = Client()
    assert client.get("/sign-in/")["Location"] == "/first-user/"
    sent = {"name": "marta", "passphrase": GOOD, "again": GOOD}
    assert client.post("/first-user/", sent)["Location"] == "/set-up/"
    assert client.get("/").status_code == 200
    assert User.objects.get(username="marta").is_staff


def test_first_user_can_be_named_once_only(consultant: User) -> None:
    sent = {"name": "mallory", "passphrase": GOOD, "again": GOOD}
    assert Client().post("/first-user/", sent)["Location"] == "/sign-in/"
    assert not User.objects.filter(username="mallory").exists()


def test_signing_in_leads_on_and_signing_out_ends_it(consultant: User) -> None:
    client = Client()
    answer = client.post(
        "/sign-in/", {"username": "consultant", "password": PASSPHRASE, "next": "/library/"}
    )
    assert answer["Location"] == "/library/"
    assert client.get("/logout/").status_code in {302, 404}
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/")["Location"] == "/sign-in/"
    assert client.get("/")["Location"].startswith("/sign-in/")


def test_wrong_passphrase_is_refused_without_saying_which_part_was_wrong(consultant: User) -> None:
    client = Client()
    known = client.post("/sign-in/", {"username": "consultant", "password": "x"})
    unknown = client.post("/sign-in/", {"username": "nobody", "password": "x"})
    words = "This name and this passphrase do not go together."
    assert words in known.content.decode()
    assert words in unknown.content.decode()


def test_next_never_leads_to_another_site(consultant: User) -> None:
    sent = {"username": "consultant", "password": PASSPHRASE, "next": "https://elsewhere.example/"}
    assert Client().post("/sign-in/", sent)["Location"] == "/"


def test_one_who_may_not_adds_nobody_and_changes_no_policy(colleague: User) -> None:
    client = Client()
    client.force_login(colleague)
    assert client.post("/users/", {"name": "ines", "role": "reader"}).status_code == 403
    assert client.post("/policy/", {}).status_code == 403
    assert not User.objects.filter(username="ines").exists()


def test_passphrase_is_changed(page: Client, consultant: User) -> None:
    sent = {"old_password": PASSPHRASE, "new_password1": GOOD, "new_password2": GOOD}
    assert page.post("/account/passphrase/", sent)["Location"] == "/"
    consultant.refresh_from_db()
    assert consultant.check_password(GOOD)


def test_present_passphrase_cannot_be_guessed_at_the_change_page(
    page: Client, consultant: User, clock: Clock
) -> None:
    def change(old: str) -> HttpResponse:
        sent = {"old_password": old, "new_password1": GOOD, "new_password2": GOOD}
        return page.post("/account/passphrase/", sent)

    for _ in range(5):
        assert "This is not your current passphrase" in change("x").content.decode()
    assert "USER-005" in change(PASSPHRASE).content.decode()
    assert tried(Client(), PASSPHRASE)["Location"] == "/", "signing in is counted apart"
    clock.go(2)
    assert change(PASSPHRASE)["Location"] == "/"
    consultant.refresh_from_db()
    assert consultant.check_password(GOOD)


def tried(client: Client, passphrase: str, name: str = "consultant", **more: str) -> HttpResponse:
    return client.post("/sign-in/", {"username": name, "password": passphrase}, **more)


def test_many_wrong_passphrases_must_wait_and_even_the_right_one_is_not_looked_at(
    consultant: User, clock: Clock
) -> None:
    client = Client()
    for _ in range(5):
        assert tried(client, "x").status_code == 200
    answer = tried(client, PASSPHRASE)
    assert (answer.status_code, answer["Retry-After"]) == (429, "2")
    html = answer.content.decode()
    assert "Wait 2 seconds, then try again. (USER-005)" in html
    assert "Not signed in" in html
    assert "Not saved" not in html
    assert 'value="consultant"' in html
    assert client.get("/")["Location"].startswith("/sign-in/")
    clock.go(2)
    assert tried(client, PASSPHRASE)["Location"] == "/"
    client.post("/sign-out/")
    for _ in range(5):
        assert tried(client, "x").status_code == 200


def test_unknown_name_waits_like_a_known_one(consultant: User, clock: Clock) -> None:
    for name in ("consultant", "nobody"):
        codes = [tried(Client(), "x", name).status_code for _ in range(6)]
        assert codes == [200] * 5 + [429]


def test_wait_is_a_minute_at_most_however_many_come(consultant: User, clock: Clock) -> None:
    waits = set()
    for _ in range(30):
        answer = tried(Client(), "x")
        if answer.status_code == 429:
            waits.add(int(answer["Retry-After"]))
            clock.go(int(answer["Retry-After"]))
    assert waits == {2, 4, 8, 16, 32, 60}


def test_browser_that_is_known_is_not_kept_waiting_by_a_stranger(
    consultant: User, colleague: User, clock: Clock
) -> None:
    ward = Client()
    for name in ("consultant", "colleague"):
        assert tried(ward, PASSPHRASE, name)["Location"] == "/"
        cookie = ward.cookies["known"]
        assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (
            True,
            "Strict",
            "/sign-in/",
        )
        ward.post("/sign-out/")
    stranger = Client()
    for name in ("consultant", "colleague"):
        for _ in range(12):
            tried(stranger, "x", name, REMOTE_ADDR="203.0.113.5")
        assert tried(Client(), PASSPHRASE, name).status_code == 429
        assert tried(ward, PASSPHRASE, name)["Location"] == "/"
        ward.post("/sign-out/")


def test_cookie_that_was_tampered_with_is_no_known_browser(consultant: User, clock: Clock) -> None:
    client = Client()
    client.cookies["known"] = "a consultant:forged:signature"
    assert [tried(client, "x").status_code for _ in range(6)] == [200] * 5 + [429]


def test_wait_is_told_in_the_language_of_the_clinic(consultant: User, clock: Clock) -> None:
    change_policy(uuid4(), {"language": "es"}, now=datetime.now(UTC), actor="consultant")
    for _ in range(6):
        answer = tried(Client(), "x")
    assert "Espere 2 segundos y pruebe otra vez. (USER-005)" in answer.content.decode()


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    kept = Clock()
    monkeypatch.setattr(session.timezone, "now", lambda: kept.now)
    return kept


def test_no_session_that_was_there_before_is_the_one_that_signs_in(consultant: User) -> None:
    """Whoever put its key into somebody's browser would else be in with them."""
    client = Client()
    client.post("/sign-in/passkey/", {"do": "begin"})
    before = client.session.session_key
    client.post("/sign-in/", {"username": "consultant", "password": PASSPHRASE})
    assert client.get("/").status_code == 200
    assert client.session.session_key != before
    planted = Client()
    planted.cookies["sessionid"] = before
    assert planted.get("/").status_code == 302
