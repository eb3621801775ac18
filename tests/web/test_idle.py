"""A screen that nobody uses is locked; the passphrase opens it, and what was typed stays."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest
from django.contrib.auth.models import User
from django.test import Client

from suffice.care.clinic.clinic import change_policy
from suffice.web.people import idle
from web.story import FAMILY, NAME, PASSPHRASE

PAGE = f"/families/{FAMILY}/"


class Clock:
    def __init__(self) -> None:
        self.now = datetime.now(UTC)

    def go(self, minutes: float) -> None:
        self.now += timedelta(minutes=minutes)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    kept = Clock()
    monkeypatch.setattr(idle.timezone, "now", lambda: kept.now)
    return kept


def unlock(page: Client, passphrase: str = PASSPHRASE, **more: str) -> object:
    sent = {"username": "consultant", "password": passphrase, "next": PAGE}
    return page.post("/sign-in/", sent, **more)


def test_a_screen_that_is_used_stays_open(page: Client, family: UUID, clock: Clock) -> None:
    for _ in range(5):
        assert page.get(PAGE).status_code == 200
        clock.go(20)


def test_a_screen_that_nobody_uses_is_locked_and_shows_nothing(
    page: Client, family: UUID, clock: Clock
) -> None:
    page.get(PAGE)
    clock.go(31)
    for address in (PAGE, "/", f"/families/{FAMILY}/export/"):
        answer = page.get(address)
        assert answer["Location"].startswith("/sign-in/?next="), address
        assert NAME not in answer.content.decode()
    html = page.get("/sign-in/").content.decode()
    assert "consultant opens it again with the passphrase" in html
    assert '<input type="hidden" name="username" value="consultant">' in html
    clock.go(0.1)
    assert page.get(PAGE).status_code == 302


def test_the_passphrase_opens_it_and_leads_back(page: Client, family: UUID, clock: Clock) -> None:
    page.get(PAGE)
    clock.go(31)
    page.get(PAGE)
    wrong = unlock(page, "x")
    assert "do not go together" in wrong.content.decode()
    assert page.get(PAGE).status_code == 302
    assert unlock(page)["Location"] == PAGE
    assert page.get(PAGE).status_code == 200


def test_a_form_kept_by_a_script_comes_back_after_it(page: Client, clock: Clock) -> None:
    page.get("/")
    page.post("/lock/")
    answer = unlock(page, HTTP_X_UNLOCK="yes")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/plain"
    assert len(answer.content) > 30
    assert page.get("/").status_code == 200


def test_the_session_keeps_what_it_held(page: Client, family: UUID, clock: Clock) -> None:
    page.get("/")
    session = page.session
    session["setting"] = "ward"
    session.save()
    page.post("/lock/")
    unlock(page)
    assert page.session["setting"] == "ward"


def test_somebody_else_gets_nothing_of_it(page: Client, colleague: User, clock: Clock) -> None:
    session = page.session
    session["setting"] = "ward"
    session.save()
    page.post("/lock/")
    page.post("/sign-in/", {"username": "colleague", "password": PASSPHRASE})
    assert "setting" not in page.session
    assert page.get("/").wsgi_request.user.get_username() == "colleague"


def test_a_list_that_renews_itself_keeps_no_screen_open(page: Client, clock: Clock) -> None:
    page.get("/")
    for _ in range(4):
        clock.go(10)
        answer = page.get("/", HTTP_HX_REQUEST="true")
    assert answer.status_code == 302


def test_typing_keeps_it_open(page: Client, clock: Clock) -> None:
    page.get("/")
    for _ in range(4):
        clock.go(20)
        assert page.post("/awake/").status_code == 204
    assert page.get("/").status_code == 200


def test_the_policy_says_how_long(page: Client, clock: Clock) -> None:
    change_policy(uuid4(), {"idle_min": 5}, now=datetime.now(UTC), actor="consultant")
    page.get("/")
    clock.go(6)
    assert page.get("/").status_code == 302


def test_a_locked_session_may_write_nothing(page: Client, family: UUID, clock: Clock) -> None:
    page.get("/")
    page.post("/lock/")
    for address in (f"/families/{FAMILY}/quick/", "/policy/", "/awake/", "/account/passphrase/"):
        assert page.post(address, {}).status_code == 302
