"""What every view shares: the request of someone who has signed in, and the page it answers with."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeVar

from django.contrib.auth.models import AnonymousUser, User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django_htmx.middleware import HtmxDetails

from suffice.care.clinic.access import Access
from suffice.knowledge.policy import Clinic
from suffice.web.shown.wording import Wording

_One = TypeVar("_One")


class Request(HttpRequest):
    """A request after our middleware.

    Attributes:
        access: What whoever asks may do.
        locked_user: Whose session it is, where it is locked.
        idle_min: After how many minutes without use the screen is locked; 0: never.
        checked: Whether a view has asked what may be done with the family that it is about.
        may_write: Whether entries may be made for that family; the next two likewise.
    """

    clinic: Clinic
    htmx: HtmxDetails
    access: Access
    locked_user: User | None
    idle_min: int
    checked: bool
    may_write: bool
    may_export: bool
    may_pass_on: bool
    may_erase: bool
    in_emergency: bool
    user: User | AnonymousUser


def one_of(sent: str, offered: Iterable[_One], otherwise: _One) -> _One:
    """What was sent, where it is one of what is offered; else the other."""
    return next((one for one in offered if one == sent), otherwise)


def wording_of(request: Request) -> Wording:
    """How the clinic reads numbers and times."""
    return Wording(policy=request.clinic.policy)


def page(
    request: HttpRequest, template: str, here: str = "", *, status: int = 200, **context: Any
) -> HttpResponse:
    """A page in our frame; `here` is the place that the navigation marks."""
    return render(request, template, {"here": here, **context}, status=status)
