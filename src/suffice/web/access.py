"""What the person of a request may do: asked once, and with a family in the call that loads it.

Every view that is about a family begins with :func:`family_of` or :func:`allowed`, and every other one
that is not for all with :func:`need`. A view that answers about a family without having asked is
stopped before anything of it is sent.
"""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import cast
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from suffice.care.clinic import access as rights
from suffice.care.clinic.access import NO_ACCESS, Access, access_of
from suffice.care.clinic.roles import IN_EMERGENCY, Act
from suffice.care.family.asking import record_of
from suffice.clinical.entry import Record
from suffice.web.shown.page import Request

__all__ = ["AccessMiddleware", "Act", "allowed", "family_of", "need"]


WITHOUT_CODE = frozenset(
    {
        *("factor", "passkeys", "sign-in", "sign-in-code", "sign-in-passkey", "sign-out"),
        *("sign-in-outside", "sign-in-outside-back"),
        *("lock", "awake", "choose-passphrase"),
    }
)
"""Pages for who must set up one-time codes or a passkey and has not yet."""


def allowed(request: Request, family_id: UUID, act: Act) -> UUID:
    """The family, where whoever asks may do this with it; what else may be done is noted for the page.

    Raises:
        InputError: RECORD-001, which becomes 404, or ACCESS-001, which becomes 403.
    """
    acts = rights.check_family(request.access, family_id, act, now=timezone.now())
    request.checked = True
    request.may_write = Act.WRITE in acts
    request.may_export = Act.EXPORT in acts
    request.may_pass_on = Act.PASS_ON in acts
    request.may_erase = Act.ERASE in acts
    request.in_emergency = acts is IN_EMERGENCY
    return family_id


def family_of(request: Request, family_id: UUID, act: Act) -> Record:
    """The record of a family, where whoever asks may do this with it.

    Raises:
        InputError: As :func:`allowed`.
        StorageError: RECORD-010.
    """
    return record_of(allowed(request, family_id, act))


def need(request: Request, act: Act) -> None:
    """Refuse whoever may not do this at all.

    Raises:
        InputError: ACCESS-001, which becomes 403.
    """
    rights.need(request.access, act)


def teams_to_choose(request: Request) -> list[tuple[str, str]]:
    """The teams in which whoever asks may open families, by name; none where there is no choice."""
    access = request.access
    own = access.teams_for(Act.OPEN)
    return [(str(one), access.teams[one]) for one in own] if len(own) > 1 else []


class AccessMiddleware:
    """Gives each request what its person may do, read once and only when asked for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; stop an answer about a family that nobody was asked about."""
        ours = cast("Request", request)
        ours.access = cast("Access", SimpleLazyObject(lambda: _access(ours)))
        ours.checked = ours.may_write = ours.may_export = ours.may_pass_on = False
        ours.in_emergency = ours.may_erase = False
        answer = self.get_response(ours)
        match = ours.resolver_match
        is_about_one = match is not None and "family_id" in match.kwargs
        is_shown = ours.user.is_authenticated and answer.status_code < HTTPStatus.BAD_REQUEST
        if is_about_one and is_shown and not ours.checked:
            raise NotAskedError(match.view_name if match else "")
        return answer

    def process_view(self, request: Request, *_args: object) -> HttpResponse | None:
        """Lead whoever must sign in with a code and has none to setting it up, before anything else."""
        match = request.resolver_match
        if not request.user.is_authenticated or match is None or match.view_name in WITHOUT_CODE:
            return None
        if request.clinic.policy.second_factor and not request.access.has_factor:
            request.checked = True  # led away: nothing is answered about a family
            return redirect("factor")
        return None


class NotAskedError(AssertionError):
    """A view answers about a family and has not asked whether it may: a bug of ours."""

    def __init__(self, view_name: str) -> None:
        super().__init__(f"{view_name} answers about a family; begin with family_of or allowed")


def _access(request: Request) -> Access:
    user = request.user
    if not user.is_authenticated or user.pk is None:
        return NO_ACCESS
    return access_of(user.pk, user.get_username(), is_administrator=user.is_staff)
