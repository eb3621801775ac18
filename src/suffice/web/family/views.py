"""The Family page and its time line."""

from __future__ import annotations

from datetime import datetime
from typing import Literal
from urllib.parse import urlencode
from uuid import UUID

import msgspec
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from suffice.care.contact.visit import visit_of
from suffice.care.family.asking import ask, record_of
from suffice.exchange.moment import read_local
from suffice.knowledge.frozen import engine_then, frozen_content, frozen_versions, not_asked_today
from suffice.knowledge.policy import Clinic
from suffice.web.entry.forms import FORMS
from suffice.web.family.page import family_page
from suffice.web.family.paper import paper_of
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of
from suffice.web.shown.time_line import time_line

OFTEN = ("weight", "test-weight", "temperature", "note")
"""Kinds that are entered every day, diapers apart; the others stand behind them."""
IN_A_CONTACT = frozenset({"contact-start", "observation", "problem", "watched-feed"})
"""Kinds that pages of their own enter; their forms correct what is there."""


@require_safe
def family(request: Request, family_id: UUID) -> HttpResponse:
    """Everything that is known of a family, as of now or of an instant that is asked for."""
    as_of, asked = _as_of(request)
    wording = wording_of(request)
    clinic = _clinic_asked(request)
    kept = request.GET.get("content", "")
    answer = ask(family_id, as_of=as_of, rules=clinic)
    read = msgspec.structs.replace(wording, now=as_of if asked == "now" else None)
    shown = family_page(answer, clinic.content, read)
    others = [
        slug
        for slug in FORMS
        if slug not in IN_A_CONTACT.union(OFTEN) and (slug != "birth" or not shown.births_known)
    ]
    return page(
        request,
        "family/print.html" if request.GET.get("print") == "1" else "family/family.html",
        family=shown,
        paper=paper_of(answer, shown, clinic.content, wording),
        line=time_line(answer.record, names_of(answer.record, as_of, wording.policy), wording),
        is_in_contact=visit_of(answer.record) is not None,
        kinds=[(slug, FORMS[slug].title) for slug in OFTEN],
        other_kinds=[(slug, FORMS[slug].title) for slug in others],
        as_of=as_of,
        now=timezone.now(),
        query=_query(request),
        is_past=asked == "past",
        is_future=asked == "future",
        kept_content=kept,
        kept_contents=frozen_versions(),
        engine_then=engine_then(clinic.content) if kept else "",
        not_asked=", ".join(not_asked_today(clinic.content)) if kept else "",
    )


@require_safe
def entries(request: Request, family_id: UUID) -> HttpResponse:
    """More of the time line: a piece for htmx, a page of its own without it."""
    record, wording = record_of(family_id), wording_of(request)
    number = request.GET.get("page", "1")
    shown = time_line(
        record,
        names_of(record, timezone.now(), wording.policy),
        wording,
        page=int(number) if number.isdigit() and 0 < int(number) < 10_000 else 1,
    )
    template = "family/time_line.html" if request.htmx else "family/entries.html"
    return page(request, template, line=shown, family_id=family_id)


def _clinic_asked(request: Request) -> Clinic:
    """The clinic as it is set up, with the content set that is asked for in place of today's.

    Raises:
        InputError: CONTENT-021 when that set is not kept.
    """
    version = request.GET.get("content", "")
    if not version:
        return request.clinic
    here = request.clinic
    content = here.policy.content_in_force(frozen_content(version))
    return Clinic(policy=here.policy, policy_version=here.policy_version, content=content)


def _query(request: Request) -> str:
    """What is asked beside the family itself, kept for the link to its paper."""
    kept = {key: request.GET[key] for key in ("as_of", "content") if request.GET.get(key)}
    return urlencode(kept)


def _as_of(request: Request) -> tuple[datetime, Literal["now", "past", "future"]]:
    """The instant that is answered for, and where the one that is asked for lies.

    Nothing is known of the future: who asks for it is answered for now.

    An instant ends in Z; anything else is a time on the clinic's clock.
    """
    now = timezone.now()
    text = request.GET.get("as_of", "").strip()
    if not text:
        return now, "now"
    asked = _instant(text) if text.endswith("Z") else None
    if asked is None:
        asked = read_local(text, wording_of(request).policy.zone).instants[0]
    return (asked, "past") if asked < now else (now, "future")


def _instant(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None
