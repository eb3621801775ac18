"""Signing in with a one-time code, and setting it up."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from uuid import UUID, uuid4

import pyotp
import pytest
from django.contrib.auth.models import User
from django.test import Client

from suffice.care.clinic.clinic import change_policy
from suffice.web.people import code
from web.story import PASSPHRASE
from web.ticking import Clock

KEY = re.compile(r'<code class="key">([A-Z2-7 ]+)</code>')
RECOVERY = re.compile(r'<code class="key">([a-z2-7-]{19})</code>')


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    kept = Clock()
    monkeypatch.setattr(code.timezone, "now", lambda: kept.now)
    return kept


@pytest.fixture
def device(page: Client, clock: Clock) -> pyotp.TOTP:
    """What the consultant carries, once it is set up; `recovery` holds the codes beside it."""
    html = page.get("/account/codes/").content.decode()
    found = KEY.search(html)
    assert found is not None
    made = pyotp.TOTP(found[1].replace(" ", ""))
    assert "<path" in html
    sent = {"code": made.at(clock.now), "passphrase": PASSPHRASE}
    shown = page.post("/account/codes/", sent).content.decode()
    made.recovery = RECOVERY.findall(shown)  # type: ignore[attr-defined]
    assert len(made.recovery) == 10  # type: ignore[attr-defined]
    clock.go(60)
    return made


def asked(client: Client, next_: str = "/library/") -> str:
    sent = {"username": "consultant", "password": PASSPHRASE, "next": next_}
    return str(client.post("/sign-in/", sent)["Location"])


def test_the_passphrase_alone_signs_nobody_in(device: pyotp.TOTP, clock: Clock) -> None:
    client = Client()
    assert asked(client) == "/sign-in/code/"
    assert client.get("/")["Location"].startswith("/sign-in/")
    wrong = client.post("/sign-in/code/", {"code": "000000"})
    assert "USER-011" in wrong.content.decode()
    answer = client.post("/sign-in/code/", {"code": device.at(clock.now)})
    assert answer["Location"] == "/library/"
    assert client.get("/").status_code == 200


def test_a_code_without_the_passphrase_is_asked_of_nobody(device: pyotp.TOTP, clock: Clock) -> None:
    client = Client()
    assert client.get("/sign-in/code/")["Location"] == "/sign-in/"
    answer = client.post("/sign-in/code/", {"code": device.at(clock.now)})
    assert answer["Location"] == "/sign-in/"
    assert asked(client) == "/sign-in/code/"
    clock.go(301)
    assert client.get("/sign-in/code/")["Location"] == "/sign-in/"


def test_who_was_deactivated_in_between_does_not_come_in(
    device: pyotp.TOTP, clock: Clock, consultant: User
) -> None:
    client = Client()
    asked(client)
    User.objects.filter(pk=consultant.pk).update(is_active=False)
    answer = client.post("/sign-in/code/", {"code": device.at(clock.now)})
    assert answer["Location"] == "/sign-in/"


def test_a_recovery_code_is_taken_once(device: pyotp.TOTP, clock: Clock) -> None:
    spare = device.recovery[0]  # type: ignore[attr-defined]
    for status in (302, 200):
        client = Client()
        asked(client)
        assert client.post("/sign-in/code/", {"code": spare}).status_code == status


def test_next_never_leads_to_another_site(device: pyotp.TOTP, clock: Clock) -> None:
    client = Client()
    asked(client, "https://elsewhere.example/")
    assert client.post("/sign-in/code/", {"code": device.at(clock.now)})["Location"] == "/"


def test_guessing_codes_takes_long(device: pyotp.TOTP, clock: Clock) -> None:
    client = Client()
    asked(client)
    for _ in range(5):
        client.post("/sign-in/code/", {"code": "000000"})
    html = client.post("/sign-in/code/", {"code": device.at(clock.now)}).content.decode()
    assert "USER-005" in html


def test_a_locked_screen_asks_for_the_passphrase_only(
    page: Client, device: pyotp.TOTP, clock: Clock
) -> None:
    page.post("/lock/")
    assert asked(page) == "/library/"
    assert page.get("/").status_code == 200


def test_it_is_taken_away_with_a_code_and_the_passphrase_only(
    page: Client, device: pyotp.TOTP, clock: Clock
) -> None:
    wrong = {"do": "remove", "code": "000000", "passphrase": PASSPHRASE}
    assert "USER-011" in page.post("/account/codes/", wrong).content.decode()
    for act in ("remove", "renew"):
        guessed = {"do": act, "code": device.at(clock.now), "passphrase": "a guess"}
        html = page.post("/account/codes/", guessed).content.decode()
        assert "This is not your current passphrase." in html
        assert not RECOVERY.findall(html)
    sent = {"do": "remove", "code": device.at(clock.now), "passphrase": PASSPHRASE}
    assert page.post("/account/codes/", sent)["Location"] == "/account/"
    assert asked(Client()) == "/library/"


def test_new_recovery_codes_take_the_place_of_the_old(
    page: Client, device: pyotp.TOTP, clock: Clock
) -> None:
    sent = {"do": "renew", "code": device.at(clock.now), "passphrase": PASSPHRASE}
    fresh = RECOVERY.findall(page.post("/account/codes/", sent).content.decode())
    old = device.recovery  # type: ignore[attr-defined]
    assert not set(fresh) & set(old)
    client = Client()
    asked(client)
    assert client.post("/sign-in/code/", {"code": old[1]}).status_code == 200
    assert client.post("/sign-in/code/", {"code": fresh[1]}).status_code == 302


@pytest.mark.parametrize("guess", ["", "not the passphrase"])
def test_who_sits_at_a_screen_that_was_left_cannot_keep_its_owner_out(
    page: Client, clock: Clock, guess: str
) -> None:
    found = KEY.search(page.get("/account/codes/").content.decode())
    assert found is not None
    sent = {"code": pyotp.TOTP(found[1].replace(" ", "")).at(clock.now), "passphrase": guess}
    html = page.post("/account/codes/", sent).content.decode()
    assert not RECOVERY.findall(html)
    assert "one-time codes" in page.get("/account/codes/").content.decode()
    assert asked(Client()) == "/library/", "the passphrase alone still signs in"


def test_the_policy_asks_it_of_everybody_before_anything_else(
    page: Client, family: UUID, clock: Clock
) -> None:
    change_policy(uuid4(), {"second_factor": True}, now=datetime.now(UTC), actor="consultant")
    own = f"/families/{family}/"
    for address in ("/", "/families/new/", "/policy/", "/users/", "/account/passphrase/", own):
        assert page.get(address)["Location"] == "/account/codes/"
    html = page.get("/account/codes/").content.decode()
    assert "Your clinic asks everybody for a code" in html
    found = KEY.search(html)
    assert found is not None
    device = pyotp.TOTP(found[1].replace(" ", ""))
    page.post("/account/codes/", {"code": device.at(clock.now), "passphrase": PASSPHRASE})
    assert page.get("/").status_code == 200
    assert page.post("/sign-out/").status_code == 302
