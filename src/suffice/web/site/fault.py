"""Pages for what went wrong: each says so plainly, with the number under which the log keeps it."""

from __future__ import annotations

import contextlib
import sys
from http import HTTPStatus

from django.db import DatabaseError, InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from suffice.errors import SufficeError
from suffice.web.incident import new_number, report
from suffice.web.shown.page import Request
from suffice.web.site.limits import RETRY_AFTER_S
from suffice.web.site.middleware import speak


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400: the request could not be understood."""
    return _fault(request, 400, exception)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    """403: not for this user."""
    return _fault(request, 403, exception)


def not_found(request: Request, exception: Exception) -> HttpResponse:
    """404: there is no such page; nothing is logged, since nothing failed."""
    del exception
    _in_the_clinics_language(request)
    return render(request, "fault/404.html", status=404)


def failed(request: HttpRequest) -> HttpResponse:
    """500: a bug of ours; 503 where the database is away, and with it the user and the policy."""
    error = sys.exc_info()[1]
    if not is_of_database(error):
        try:
            return _fault(request, 500, error)
        except DatabaseError as away:
            error = away
    return _without_database(request, error)


def is_of_database(error: BaseException | None) -> bool:
    """Whether an error is the database's, or came while one of the database's was dealt with."""
    seen = set()
    while error is not None and id(error) not in seen:
        if isinstance(error, OperationalError | InterfaceError):
            return True
        seen.add(id(error))
        error = error.__cause__ or error.__context__
    return False


def _without_database(request: HttpRequest, error: BaseException | None) -> HttpResponse:
    """A page that asks the database for nothing: neither who has signed in nor the language."""
    number = new_number()
    report(number, f"503 at {_route(request)}", error)
    html = render_to_string("fault/503.html", {"number": number})
    response = HttpResponse(html, status=HTTPStatus.SERVICE_UNAVAILABLE)
    response["Retry-After"] = str(RETRY_AFTER_S)
    return response


def csrf_failed(request: Request, reason: str = "") -> HttpResponse:
    """403: the form was open too long, or came from elsewhere."""
    _in_the_clinics_language(request)
    number = new_number()
    report(
        number,
        f"403 form token refused ({reason.split('(', maxsplit=1)[0].strip()}) at {_route(request)}",
    )
    return render(request, "fault/csrf.html", {"number": number}, status=403)


def _fault(request: HttpRequest, status: int, error: BaseException | None) -> HttpResponse:
    number = new_number()
    report(number, f"{status} at {_route(request)}", error)
    return render(request, f"fault/{status}.html", {"number": number}, status=status)


def _in_the_clinics_language(request: Request) -> None:
    """These two come before any view is reached, so the language is not set yet."""
    with contextlib.suppress(SufficeError):
        speak(request)


def _route(request: HttpRequest) -> str:
    """The route's name; an address may hold what somebody typed."""
    match = request.resolver_match
    return match.view_name if match and match.view_name else "no route"
