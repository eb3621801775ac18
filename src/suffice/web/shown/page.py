"""What every view shares: the request of someone who has signed in, and the page it answers with."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import AnonymousUser, User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django_htmx.middleware import HtmxDetails

from suffice.knowledge.policy import Clinic
from suffice.web.shown.wording import Wording


class Request(HttpRequest):
    """A request after our middleware."""

    clinic: Clinic
    htmx: HtmxDetails
    user: User | AnonymousUser


def wording_of(request: Request) -> Wording:
    """How the clinic reads numbers and times."""
    return Wording(policy=request.clinic.policy)


def page(
    request: HttpRequest, template: str, here: str = "", *, status: int = 200, **context: Any
) -> HttpResponse:
    """A page in our frame; `here` is the place that the navigation marks."""
    return render(request, template, {"here": here, **context}, status=status)
