"""Signing in and out, the first user, adding users, passwords."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User
from django.test import Client

from web.story import PASSPHRASE

GOOD = "seven calm green herons"


@pytest.mark.django_db
def test_first_visit_leads_to_naming_the_first_user_who_may_add_others() -> None:
    client = Client()
    assert client.get("/sign-in/")["Location"] == "/first-user/"
    sent = {"name": "marta", "passphrase": GOOD, "again": GOOD}
    assert client.post("/first-user/", sent)["Location"] == "/"
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


def test_wrong_password_is_refused_without_saying_which_part_was_wrong(consultant: User) -> None:
    client = Client()
    known = client.post("/sign-in/", {"username": "consultant", "password": "x"})
    unknown = client.post("/sign-in/", {"username": "nobody", "password": "x"})
    words = "enter a correct"
    assert words in known.content.decode()
    assert words in unknown.content.decode()


def test_next_never_leads_to_another_site(consultant: User) -> None:
    sent = {"username": "consultant", "password": PASSPHRASE, "next": "https://elsewhere.example/"}
    assert Client().post("/sign-in/", sent)["Location"] == "/"


def test_one_who_may_adds_a_user(page: Client) -> None:
    sent = {"name": "ines", "passphrase": GOOD, "again": GOOD}
    assert page.post("/users/", sent)["Location"] == "/users/"
    assert not User.objects.get(username="ines").is_staff
    assert "ines" in page.get("/users/").content.decode()


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"again": "something else"}, "The two passphrases differ"),
        ({"passphrase": "short", "again": "short"}, "USER-003"),
        ({"name": "consultant"}, "USER-002"),
        ({"name": "No Spaces"}, "USER-001"),
    ],
)
def test_user_that_cannot_be_added_is_told_why(
    page: Client, changed: dict[str, str], words: str
) -> None:
    sent = {"name": "ines", "passphrase": GOOD, "again": GOOD} | changed
    assert words in page.post("/users/", sent).content.decode()
    assert not User.objects.filter(username="ines").exists()


def test_one_who_may_not_adds_nobody_and_changes_no_policy(colleague: User) -> None:
    client = Client()
    client.force_login(colleague)
    sent = {"name": "ines", "passphrase": GOOD, "again": GOOD}
    assert client.post("/users/", sent).status_code == 403
    assert client.post("/policy/", {}).status_code == 403
    assert not User.objects.filter(username="ines").exists()


def test_password_is_changed(page: Client, consultant: User) -> None:
    sent = {"old_password": PASSPHRASE, "new_password1": GOOD, "new_password2": GOOD}
    assert page.post("/password/", sent)["Location"] == "/"
    consultant.refresh_from_db()
    assert consultant.check_password(GOOD)
