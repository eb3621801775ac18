"""The caseload: who needs someone now, and why."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from suffice.care.caseload.listing import caseload as list_families
from suffice.web.caseload.background import bring_up_to_date
from suffice.web.caseload.page import TIER_NAMES, Filter, caseload_page
from suffice.web.shown.fact import setting_words
from suffice.web.shown.page import Request, page, wording_of


@require_safe
def caseload(request: Request) -> HttpResponse:
    """The families in order, filtered as asked; only the list itself when htmx asks."""
    asked = _asked(request)
    now = timezone.now()
    listed = list_families(now=now, with_discharged=asked.with_discharged)
    shown = caseload_page(listed, asked, wording_of(request), now)
    if shown.outdated_count:
        bring_up_to_date()
    partial = bool(request.htmx)
    return page(
        request,
        "caseload/list.html" if partial else "caseload/caseload.html",
        "caseload",
        partial=partial,
        asked=asked,
        shown=shown,
        settings=setting_words(),
        query=_query(asked),
    )


def _asked(request: Request) -> Filter:
    sent = request.GET
    number = sent.get("page", "1")
    tier = sent.get("tier", "")
    return Filter(
        words=sent.get("q", "").strip()[:80],
        setting=sent.get("setting", "")[:20],
        tier=tier if tier in TIER_NAMES else "",
        with_discharged=sent.get("discharged") == "1",
        page=int(number) if number.isdigit() and len(number) < 6 else 1,
    )


def _query(asked: Filter) -> str:
    """What was asked, for links to other tiers and pages; the tier and the page are left out."""
    parts = {"q": asked.words, "setting": asked.setting}
    if asked.with_discharged:
        parts["discharged"] = "1"
    return urlencode({name: value for name, value in parts.items() if value})
