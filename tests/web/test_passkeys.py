"""Pages of passkeys: adding one, signing in with it alone or after a passphrase, what policy asks for."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.test import Client

from soft_key import SoftKey
from suffice.care import trail
from suffice.care.clinic.clinic import change_policy
from suffice.record.accounts import passkeys_of
from suffice.web.people import passkeys as pages
from web.story import PASSPHRASE

OWN, SIGN_IN = "/account/passkeys/", "/sign-in/passkey/"


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path) -> None:
    """A trail of its own."""
    settings.HOME = tmp_path


@pytest.fixture
def key(page: Client, consultant: User) -> SoftKey:
    made = SoftKey()
    add(page, made)
    return made


def add(page: Client, key: SoftKey, passphrase: str = PASSPHRASE):
    asked = page.post(OWN, {"do": "begin"}).content.decode()
    sent = {"do": "add", "called": "phone", "answer": key.made(asked), "passphrase": passphrase}
    return page.post(OWN, sent)


def use(client: Client, key: SoftKey, **sent: str):
    asked = client.post(SIGN_IN, {"do": "begin"}).content.decode()
    return client.post(SIGN_IN, {"answer": key.signed(asked)} | sent)


def is_in(client: Client) -> bool:
    return client.get("/").status_code == 200


def test_a_passkey_signs_in_by_itself(consultant: User, key: SoftKey) -> None:
    client = Client()
    client.post(SIGN_IN, {"do": "begin"})
    assert client.session.get_expiry_age() <= 600, "nobody's"
    assert use(client, key, next="/library/")["Location"] == "/library/"
    assert client.session.get_expiry_age() == 12 * 3600
    assert is_in(client)
    events = trail.events(trail.Asked(who="consultant"), most=50)
    assert "sign-in" in {one.event.act for one in events}


def test_it_leads_to_no_page_of_others(key: SoftKey) -> None:
    assert use(Client(), key, next="https://elsewhere.example/")["Location"] == "/"


def test_the_passphrase_alone_signs_in_no_more(key: SoftKey) -> None:
    client = Client()
    sent = {"username": "consultant", "password": PASSPHRASE, "next": "/bench/"}
    assert client.post("/sign-in/", sent)["Location"] == "/sign-in/code/"
    html = client.get("/sign-in/code/").content.decode()
    assert "Your passkey" in html
    assert 'name="code"' not in html
    assert not is_in(client)
    assert use(client, key)["Location"] == "/bench/"
    assert is_in(client)


def test_after_a_passphrase_somebody_elses_passkey_is_refused(
    key: SoftKey, colleague: User
) -> None:
    other, theirs = Client(), SoftKey()
    other.force_login(colleague)
    add(other, theirs)
    client = Client()
    client.post("/sign-in/", {"username": "consultant", "password": PASSPHRASE})
    assert use(client, theirs)["Location"] == "/sign-in/"
    assert not is_in(client)


def test_a_question_is_answered_once_and_within_its_time(key: SoftKey, monkeypatch) -> None:
    client = Client()
    asked = client.post(SIGN_IN, {"do": "begin"}).content.decode()
    answer = key.signed(asked)
    assert client.post(SIGN_IN, {"answer": answer})["Location"] == "/"
    client.post("/sign-out/")
    assert client.post(SIGN_IN, {"answer": answer})["Location"] == "/sign-in/"
    assert not is_in(client)
    monkeypatch.setattr("suffice.web.people.passkeys.ASKED_FOR_S", -1)
    assert use(client, key)["Location"] == "/sign-in/"


def test_what_is_refused_is_noted(key: SoftKey) -> None:
    client = Client()
    assert use(client, SoftKey())["Location"] == "/sign-in/"
    assert "USER-013" in client.get("/sign-in/").content.decode()
    failed = trail.events(trail.Asked(act="sign-in-failed"), most=5)
    assert [one.event.who for one in failed] == [""]


def test_where_policy_asks_for_a_second_factor_a_passkey_is_one(
    page: Client, consultant: User
) -> None:
    change_policy(uuid4(), {"second_factor": True}, now=datetime.now(UTC), actor="consultant")
    assert page.get("/")["Location"] == "/account/codes/"
    assert "Add a passkey instead" in page.get("/account/codes/").content.decode()
    assert "asks everybody" in page.get(OWN).content.decode()
    add(page, SoftKey())
    assert is_in(page)


def test_naming_and_removing(page: Client, consultant: User, key: SoftKey) -> None:
    (kept,) = passkeys_of(consultant.pk)
    page.post(OWN, {"do": "rename", "key": kept.id, "called": "old phone"})
    assert 'value="old phone"' in page.get(OWN).content.decode()
    assert "You have 1 passkey." in " ".join(page.get("/account/").content.decode().split())
    page.post(OWN, {"do": "remove", "key": "x", "sure": "1", "passphrase": PASSPHRASE})
    asked = page.post(OWN, {"do": "remove", "key": kept.id})
    assert "Current passphrase" in asked.content.decode()
    assert len(passkeys_of(consultant.pk)) == 1
    page.post(OWN, {"do": "remove", "key": kept.id, "sure": "1", "passphrase": PASSPHRASE})
    assert passkeys_of(consultant.pk) == ()
    assert use(Client(), key)["Location"] == "/sign-in/"


@pytest.mark.parametrize("guess", ["", "not the passphrase"])
def test_who_sits_down_at_an_open_screen_removes_no_passkey(
    page: Client, consultant: User, guess: str
) -> None:
    """Whoever is left with the passphrase alone could be kept out, or imitated, more easily."""
    add(page, SoftKey())
    (kept,) = passkeys_of(consultant.pk)
    sent = {"do": "remove", "key": kept.id, "sure": "1", "passphrase": guess}
    assert "Not removed" in page.post(OWN, sent).content.decode()
    assert passkeys_of(consultant.pk) == (kept,)


def test_nonsense_is_said_on_the_page(page: Client) -> None:
    html = page.post(
        OWN, {"do": "add", "called": "x", "answer": "nonsense", "passphrase": PASSPHRASE}
    ).content.decode()
    assert "USER-013" in html


def test_who_sits_down_at_an_open_screen_adds_no_passkey(
    page: Client, consultant: User, monkeypatch
) -> None:
    """It would be a way in for good; and the passphrase is not to be guessed there either."""
    # However long the machine takes, all of it happens within one moment.
    moment = datetime.now(UTC)
    monkeypatch.setattr(pages.timezone, "now", lambda: moment)
    for guess in ("", "not the passphrase", "another guess"):
        assert add(page, SoftKey(), guess).status_code == 200
        assert passkeys_of(consultant.pk) == ()
    said = ""
    for _ in range(10):
        said = add(page, SoftKey(), "and another").content.decode()
    assert "Too many wrong" in said
    assert "Too many wrong" in add(page, SoftKey()).content.decode(), "not even the right one"
    assert passkeys_of(consultant.pk) == ()


def test_who_has_no_passphrase_and_signs_in_nowhere_else_changes_nothing(
    page: Client, consultant: User
) -> None:
    """A reset has taken the passphrase; a passkey from before opens the account still."""
    consultant.set_unusable_password()
    consultant.save()
    client = Client()
    client.force_login(consultant)
    html = client.get(OWN).content.decode()
    assert "Current passphrase" not in html
    assert "sign-in/outside" not in html
    assert "has no passphrase here" in add(client, SoftKey()).content.decode()
    assert passkeys_of(consultant.pk) == ()
