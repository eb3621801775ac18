"""What a user has looked at since signing in: the families they opened, and the list last shown.

Both stay in the session, which ends when the user signs out: ids alone, no name, nothing typed.
They are a comfort, so a page does not fail where they cannot be kept.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from itertools import islice
from typing import Final
from uuid import UUID

from django.contrib.sessions.exceptions import SessionInterrupted
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

logger = logging.getLogger("suffice.caseload")

LIST: Final = "caseload list"
QUERY: Final = "caseload query"
LOOKED: Final = "families looked at"
LIST_MOST: Final = 100
LOOKED_MOST: Final = 30


def keep_list(request: HttpRequest, family_ids: Iterable[UUID], query: str) -> None:
    """Keep the list that is shown, for the way from one family to the next."""
    ids = [one.hex for one in islice(family_ids, LIST_MOST)]
    _keep(request, {LIST: ids, QUERY: query})


def list_seen(request: HttpRequest) -> tuple[UUID, ...]:
    """The families of the list last shown, in its order; empty where none was."""
    return tuple(UUID(hex=one) for one in request.session.get(LIST, ()))


def query_seen(request: HttpRequest) -> str:
    """What was asked of the list last shown: no name is ever in it."""
    query: str = request.session.get(QUERY, "")
    return query


def list_shown(request: HttpRequest) -> str | None:
    """The same; None where no list was shown since signing in."""
    query: str | None = request.session.get(QUERY)
    return query


def looked_at(request: HttpRequest) -> Mapping[UUID, datetime]:
    """The families opened since signing in, each with the last time."""
    kept: dict[str, float] = request.session.get(LOOKED, {})
    return {UUID(hex=one): datetime.fromtimestamp(at, UTC) for one, at in kept.items()}


class LookedMiddleware:
    """Keeps which family was opened, for the list of the recent ones."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; a family's page that was shown is kept."""
        response = self.get_response(request)
        match = request.resolver_match
        if match and match.view_name == "family" and response.status_code == 200:
            self._keep(request, match.kwargs["family_id"])
        return response

    @staticmethod
    def _keep(request: HttpRequest, family_id: UUID) -> None:
        kept: dict[str, float] = request.session.get(LOOKED, {})
        if next(reversed(kept), None) == family_id.hex:
            return  # it is the latest already: renewing its page writes nothing
        kept = {one: at for one, at in kept.items() if one != family_id.hex}
        kept[family_id.hex] = timezone.now().timestamp()
        _keep(request, {LOOKED: dict(list(kept.items())[-LOOKED_MOST:])})


def _keep(request: HttpRequest, values: Mapping[str, object]) -> None:
    session = request.session
    if all(session.get(name) == value for name, value in values.items()):
        return
    was_modified = session.modified
    session.update(values)
    try:
        session.save()
    except (DatabaseError, SessionInterrupted) as error:
        logger.warning("the list was not kept: %s", type(error).__name__)
    session.modified = was_modified
