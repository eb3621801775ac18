"""The state of the record as the administrator reads it: last backup, checks, room, people.

It says what ``suffice doctor`` says, but for the pages of the database: to read them all takes long.
"""

from __future__ import annotations

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from suffice.care.doctor import Health, signs
from suffice.web.access import Act, need
from suffice.web.shown.page import Request, page


@require_safe
@never_cache
def state(request: Request) -> HttpResponse:
    """One thing after the other, what is not in order first; nothing of any family."""
    need(request, Act.STATE)
    now = timezone.now()
    found = sorted(signs(now, with_pages=False), key=lambda one: one.health, reverse=True)
    return page(
        request,
        "state/state.html",
        "people",
        wrong=[one for one in found if one.health is not Health.WELL],
        well=[one for one in found if one.health is Health.WELL],
        now=now,
    )
