"""The family's page of a plan as it would be printed, while the plan is edited: nothing is kept by it.

The page of the plan asks for it where somebody opens it, and again after each pause in which a field was
changed. It is the paper that would be made if the plan were kept now, the day on the clock with it.
"""

from __future__ import annotations

import base64
from typing import Final
from uuid import UUID

import msgspec
from django.conf import settings
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from suffice.assess.died import of_living
from suffice.documents.page import pictures_of
from suffice.documents.plan_page import plan_page
from suffice.web.access import Act, family_of
from suffice.web.fields.sent import infant_asked
from suffice.web.papers.asked import folder_asked
from suffice.web.plan.day import on_the_clock
from suffice.web.plan.forms import plan_form
from suffice.web.shown.page import Request, page

PREVIEW_PPI: Final = 90.0
"""Points per inch: read on a screen, and small enough to be sent again after each change."""


@require_POST
def plan_preview(request: Request, family_id: UUID) -> HttpResponse:
    """The pages of the paper as pictures; what is wrong where the fields are no plan yet."""
    record = family_of(request, family_id, Act.READ)
    now, policy = timezone.now(), request.clinic.policy
    infant_id = infant_asked(request, of_living(record, now, policy))
    form = plan_form(request, {}, infant_id)
    pictures: list[str] = []
    if form.is_valid():
        sent = form.entry_of(now=now, actor=request.user.get_username())
        entry = on_the_clock(request, sent, record)
        _asked, folder = folder_asked(request, family_id)
        source = msgspec.structs.replace(folder.source, entries=(*folder.source.entries, entry))
        drawn = pictures_of(plan_page(source, infant_id), settings.HOME, ppi=PREVIEW_PPI)
        pictures = [f"data:image/png;base64,{base64.b64encode(one).decode()}" for one in drawn]
    return page(
        request,
        "plan/preview.html",
        family_id=family_id,
        pictures=pictures,
        is_first="first" in request.GET,
    )
