"""The trail, for those who may read it; and on each family, who has seen it."""

from __future__ import annotations

from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpResponse, StreamingHttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe
from msgspec.structs import replace

from suffice.care.trail import Asked, Kept, events, every
from suffice.web.access import Act, family_of, need
from suffice.web.fields.moment import SUFFIX
from suffice.web.fields.sent import number_sent
from suffice.web.shown.page import Request, page
from suffice.web.shown.people import names_of
from suffice.web.trail.forms import TrailForm
from suffice.web.trail.page import csv_of, lines_of

SHOWN = 100
ROWS_MOST = 10**15


@require_safe
def trail(request: Request) -> HttpResponse:
    """Who did and saw what, the newest first."""
    form = _form(request)
    found, older = _page_of(request, _asked(request, form))
    asked = {*form.fields, *(name + SUFFIX for name in form.fields)}
    sent = {key: value for key, value in request.GET.items() if key in asked and value}
    return page(
        request,
        "trail/trail.html",
        "trail",
        form=form,
        lines=lines_of(found, request.clinic.content, request.access.teams),
        query=urlencode(sent),
        older=older and urlencode({**sent, "before": str(older)}),
    )


@require_safe
def export(request: Request) -> StreamingHttpResponse:
    """What is asked of the trail, as a file."""
    form = _form(request)
    response = StreamingHttpResponse(csv_of(every(_asked(request, form))), content_type="text/csv")
    response["Content-Disposition"] = 'attachment; filename="trail.csv"'
    response["Cache-Control"] = "no-store"
    return response


@require_safe
def seen(request: Request, family_id: UUID) -> HttpResponse:
    """Who has seen a family, when, and what of it."""
    record, now = family_of(request, family_id, Act.READ), timezone.now()
    found, older = _page_of(request, Asked(family_id=family_id))
    return page(
        request,
        "trail/seen.html",
        name=names_of(record, now, request.clinic.policy)[None],
        family_id=family_id,
        lines=lines_of(found, request.clinic.content, request.access.teams),
        older=older and urlencode({"before": str(older)}),
    )


def _form(request: Request) -> TrailForm:
    need(request, Act.AUDIT)
    return TrailForm(request.GET or {}, zone=request.clinic.policy.zone)


def _asked(request: Request, form: TrailForm) -> Asked:
    """What is asked for, of the teams that the person leads; an auditor reads all."""
    return replace(form.asked(), teams=request.access.audited_teams)


def _page_of(request: Request, asked: Asked) -> tuple[list[Kept], int | None]:
    """Some events, and the number before which the next page begins; None where there is none."""
    before = number_sent(request.GET.get("before", ""), ROWS_MOST)
    found = events(asked, most=SHOWN + 1, before=before)
    return found[:SHOWN], found[SHOWN - 1].number if len(found) > SHOWN else None
