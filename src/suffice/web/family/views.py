"""The Family page and its time line."""

from __future__ import annotations

from urllib.parse import urlencode
from uuid import UUID

import msgspec
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from suffice.care.caseload.passing import last_passed_on
from suffice.care.clinic.people import full_names
from suffice.care.contact.visit import visit_of
from suffice.care.family.asking import ask, imported_of
from suffice.knowledge.frozen import engine_then, frozen_content, frozen_versions, not_asked_today
from suffice.knowledge.policy import Clinic
from suffice.web.access import Act, allowed, family_of
from suffice.web.caseload.seen import list_seen
from suffice.web.entry.forms import FORMS
from suffice.web.family.given import given_shown
from suffice.web.family.page import family_page
from suffice.web.family.paper import paper_of
from suffice.web.fields.as_of import asked_as_of
from suffice.web.fields.moment import SUFFIX as ORDER_SUFFIX
from suffice.web.fields.moment import AsOfForm
from suffice.web.fields.sent import number_sent
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of
from suffice.web.shown.telephone import telephone_of
from suffice.web.shown.time_line import time_line

PAGES_MOST = 9_999
OFTEN = ("weight", "test-weight", "temperature", "note")
"""Kinds that are entered every day, diapers apart; the others stand behind them."""
IN_A_CONTACT = frozenset(
    {
        "contact-start",
        "death",
        "latch-photograph",
        "milk-moved",
        "milk-stored",
        "observation",
        "paper-given",
        "plan",
        "problem",
        "score",
        "signed-note",
        "amendment",
        "watched-feed",
    }
)
"""Kinds that pages of their own enter; their forms correct what is there."""


@require_safe
def family(request: Request, family_id: UUID) -> HttpResponse:
    """Everything that is known of a family, as of now or of an instant that is asked for."""
    as_of, asked = asked_as_of(request)
    wording = wording_of(request)
    clinic = _clinic_asked(request)
    kept = request.GET.get("content", "")
    answer = ask(allowed(request, family_id, Act.READ), as_of=as_of, rules=clinic)
    read = msgspec.structs.replace(wording, now=as_of if asked == "now" else None)
    shown = family_page(answer, clinic.content, read)
    others = [
        slug
        for slug in FORMS
        if slug not in IN_A_CONTACT.union(OFTEN) and (slug != "birth" or not shown.births_known)
    ]

    def is_asked(slug: str) -> bool:
        """Whether an entry of a kind is offered: of an infant only while one lives."""
        return shown.has_living or FORMS[slug].made.declared.about != "infant"

    return page(
        request,
        "family/print.html" if request.GET.get("print") == "1" else "family/family.html",
        family=shown,
        paper=paper_of(answer, shown, clinic.content, wording),
        given=given_shown(answer.record, family_id, full_names(), wording),
        line=time_line(
            answer.record,
            names_of(answer.record, as_of, wording.policy),
            wording,
            imported=imported_of(family_id),
        ),
        telephone=telephone_of(answer.record, as_of),
        passed=last_passed_on(family_id) if request.access.passes_on else None,
        is_in_contact=visit_of(answer.record) is not None,
        kinds=[(slug, FORMS[slug].title) for slug in OFTEN if is_asked(slug)],
        other_kinds=[(slug, FORMS[slug].title) for slug in others],
        as_of=as_of,
        ask_as_of=AsOfForm(initial={"as_of": wording.field(as_of)} if asked == "past" else None),
        now=timezone.now(),
        query=_query(request),
        is_last=list_seen(request)[-1:] == (family_id,),
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
    record, wording = family_of(request, family_id, Act.READ), wording_of(request)
    shown = time_line(
        record,
        names_of(record, timezone.now(), wording.policy),
        wording,
        imported=imported_of(family_id),
        page=number_sent(request.GET.get("page", "1"), PAGES_MOST) or 1,
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
    names = ("as_of", f"as_of{ORDER_SUFFIX}", "content")
    kept = {key: request.GET[key] for key in names if request.GET.get(key)}
    return urlencode(kept)
