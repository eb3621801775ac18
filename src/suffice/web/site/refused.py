"""The page for a request whose body the guard did not take, in the clinic's language."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from http import HTTPStatus
from typing import Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from suffice.errors import Problem, SufficeError
from suffice.message import message
from suffice.web.shown.page import Request
from suffice.web.site import limits
from suffice.web.site.guard import REFUSED
from suffice.web.site.middleware import speak

BYTES_PER_KB: Final = 1024
BYTES_PER_MB: Final = 1024**2


class RefusedMiddleware:
    """Answers what the guard refused; no view sees it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: Request) -> HttpResponse:
        """Pass on what was not refused."""
        if REFUSED not in request.META:
            return self.get_response(request)
        with suppress(SufficeError):
            speak(request)
        problems = {"problems": [_too_long(int(request.META[REFUSED]))]}
        status = HTTPStatus.REQUEST_ENTITY_TOO_LARGE
        return render(request, "shown/problem.html", problems, status=status)


def _too_long(most_bytes: int) -> Problem:
    if most_bytes <= limits.STRANGER_BYTES:
        return Problem(
            code="SITE-001",
            what=message("What was sent is too long for somebody who has not signed in."),
            why=message(
                "At most {most} kB are read before it is known who asks. Nothing was stored.",
                most=most_bytes // BYTES_PER_KB,
            ),
            fix=message("Sign in and send it again."),
        )
    return Problem(
        code="SITE-002",
        what=message("What was sent is too long."),
        why=message(
            "At most {most} MB can be sent at once. Nothing was stored.",
            most=most_bytes // BYTES_PER_MB,
        ),
        fix=message("Divide the file, or import it with the command line."),
    )
