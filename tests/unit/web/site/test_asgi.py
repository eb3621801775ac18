"""Who may send a long body, and the language of a refusal for which no page is made."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.contrib.auth.models import User
from django.db import DatabaseError
from django.test import Client

from suffice.message import message
from suffice.web.site import asgi
from suffice.web.site.calling import environ_of


def environ_with(cookie: str = "") -> dict[str, object]:
    headers = [(b"cookie", f"{settings.SESSION_COOKIE_NAME}={cookie}".encode())] if cookie else []
    return environ_of(
        {
            "method": "POST",
            "path": "/import/",
            "query_string": b"",
            "http_version": "1.1",
            "headers": headers,
        },
        b"",
    )


@pytest.mark.django_db
def test_only_somebody_who_has_signed_in_may_send_a_long_body() -> None:
    client = Client()
    client.force_login(User.objects.create_user("somebody", password="four quiet words"))
    mine = client.cookies[settings.SESSION_COOKIE_NAME].value
    assert asgi.is_signed_in(environ_with(mine))
    for cookie in ("", "made-up", mine[::-1], "x" * 5000, "\x00"):
        assert not asgi.is_signed_in(environ_with(cookie)), cookie
    client.logout()
    assert not asgi.is_signed_in(environ_with(mine))


def test_database_that_is_away_is_left_to_the_page_to_say(monkeypatch: pytest.MonkeyPatch) -> None:
    def away(_request: object) -> None:
        raise DatabaseError

    monkeypatch.setattr(asgi, "get_user", away)
    assert asgi.is_signed_in(environ_with("any"))


@pytest.mark.parametrize(
    ("accepted", "language"),
    [
        ("es", "es"),
        ("es-MX,en;q=0.5", "es"),
        ("xx, es;q=0.1", "es"),
        ("en, es", "en"),
        ("", "en"),
        ("xx", "en"),
        ("\x00;;;q=q", "en"),
    ],
)
def test_refusal_is_said_in_the_first_language_that_the_browser_takes(
    accepted: str, language: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(asgi, "in_words", lambda _words: asgi.translation.get_language())
    assert asgi.in_browsers_words(message("anything"), accepted) == language
