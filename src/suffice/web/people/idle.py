"""A screen that nobody uses is locked; the passphrase of its user opens it again.

The session stays, so what was typed on the page stays with it. Until it is opened again the session
counts as nobody's: every page leads to signing in.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from http import HTTPStatus
from typing import Final, cast

from django.contrib.auth import SESSION_KEY
from django.contrib.auth.models import AnonymousUser
from django.contrib.sessions.exceptions import SessionInterrupted
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from suffice.errors import SufficeError
from suffice.web.shown.page import Request

logger = logging.getLogger("suffice.idle")

SEEN: Final = "seen at"
LOCKED: Final = "locked"
S_PER_MIN: Final = 60
NOBODYS_S: Final = 10 * S_PER_MIN
"""How long somebody who has not signed in may take for it, at a provider or with a device."""
SEEN_EVERY_S: Final = 60
"""How exactly it is kept when a session was last used: not every page need write it."""


class IdleMiddleware:
    """Locks a session that was not used for as long as the policy says."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; of a locked session as nobody's."""
        ours = cast("Request", request)
        ours.locked_user = None
        ours.idle_min = _idle_min(ours)
        if ours.user.is_authenticated:
            if not is_locked(ours):
                _note_use(ours)
            if is_locked(ours):
                ours.locked_user = ours.user
                ours.user = AnonymousUser()
        return self.get_response(ours)


def is_locked(request: Request) -> bool:
    """Whether the session waits for the passphrase of its user."""
    return bool(request.session.get(LOCKED))


def lock_session(request: Request) -> None:
    """Let the session wait for the passphrase of its user."""
    request.session[LOCKED] = True


def nobodys_for_a_moment(request: HttpRequest) -> None:
    """Let the session of somebody who has not signed in yet end soon.

    Anybody can begin one by asking for a sign-in, as often as they like; it is stored each time.
    """
    if SESSION_KEY not in request.session:
        request.session.set_expiry(NOBODYS_S)


def open_session(request: HttpRequest) -> None:
    """Let the session go on for as long as any: its user has given the passphrase."""
    request.session.set_expiry(None)
    request.session.pop(LOCKED, None)
    request.session[SEEN] = timezone.now().timestamp()


def _note_use(request: Request) -> None:
    now_s = timezone.now().timestamp()
    seen_s = request.session.get(SEEN)
    idle_s = S_PER_MIN * request.idle_min
    if idle_s and seen_s is not None and now_s - seen_s > idle_s:
        lock_session(request)
        return
    # A list that renews itself is no use of the page.
    renews_itself = request.method == "GET" and "HX-Request" in request.headers
    if not renews_itself and (seen_s is None or now_s - seen_s > SEEN_EVERY_S):
        _keep(request, now_s)


def _keep(request: Request, now_s: float) -> None:
    """Keep when the session was used; a page does not fail where that cannot be kept."""
    session = request.session
    was_modified = session.modified
    session[SEEN] = now_s
    try:
        session.save()
    except (DatabaseError, SessionInterrupted) as error:
        logger.warning("the use of a session was not kept: %s", type(error).__name__)
    session.modified = was_modified


def _idle_min(request: Request) -> int:
    """After how many minutes a screen is locked; 0 where the policy cannot be read, as its page says."""
    if not request.session.session_key:
        return 0
    try:
        return request.clinic.policy.idle_min
    except SufficeError:
        return 0


@require_POST
def lock(request: Request) -> HttpResponse:
    """The page says that nobody uses it any more."""
    lock_session(request)
    return HttpResponse(status=HTTPStatus.NO_CONTENT)


@require_POST
def awake(request: Request) -> HttpResponse:
    """The page says that somebody is typing; the middleware has noted it."""
    del request
    return HttpResponse(status=HTTPStatus.NO_CONTENT)
