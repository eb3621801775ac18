"""Browsers in which an account has signed in before: somebody else's guessing keeps nobody waiting there."""

from __future__ import annotations

import secrets

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

KNOWN_COOKIE = "known"
KNOWN_S = 180 * 24 * 60 * 60
KNOWN_MOST = 20
"""A ward's computer has many users; it knows the latest of them."""


def _known(request: HttpRequest) -> tuple[str, list[str]]:
    """What names this browser, and the accounts that have signed in with it; the latest first."""
    cookie = request.get_signed_cookie(KNOWN_COOKIE, "", salt=KNOWN_COOKIE, max_age=KNOWN_S) or ""
    token, *accounts = cookie.split(" ")
    return token, accounts


def known_browser(request: HttpRequest, name: str) -> str:
    """What names a browser in which this account has signed in before; empty for any other."""
    token, accounts = _known(request)
    return token if name in accounts else ""


def remember_browser(request: HttpRequest, response: HttpResponse, name: str) -> None:
    """Let this browser be known as one in which the account has signed in."""
    token, accounts = _known(request)
    if " " in name:
        return
    latest = [name, *(one for one in accounts if one != name)][:KNOWN_MOST]
    response.set_signed_cookie(
        KNOWN_COOKIE,
        " ".join([token or secrets.token_urlsafe(16), *latest]),
        salt=KNOWN_COOKIE,
        max_age=KNOWN_S,
        path=reverse("sign-in"),
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Strict",
    )
