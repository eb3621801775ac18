"""The caseload: who needs someone now, and why; and the way from one family to the next."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from suffice.care.caseload.choosing import Choice, Mine, Sort, Which, mine_of
from suffice.care.caseload.listing import caseload as list_families
from suffice.web.caseload import seen
from suffice.web.caseload.background import bring_up_to_date
from suffice.web.caseload.page import (
    TIER_NAMES,
    Asked,
    caseload_page,
    list_names,
    sort_names,
    usual_sort,
)
from suffice.web.shown.fact import setting_words
from suffice.web.shown.mark import tier_mark
from suffice.web.shown.page import Request, page, wording_of

WORDS_LENGTH = 80
LISTS = {one.value: one for one in Which}
SORTS = {one.value: one for one in Sort}


@require_http_methods(["GET", "HEAD", "POST"])
def caseload(request: Request) -> HttpResponse:
    """The families as asked for; only the list itself when htmx asks.

    A name is sent in the body of a POST and never stands in an address.
    """
    asked = _asked(request)
    now = timezone.now()
    listed = list_families(now=now, with_discharged=asked.choice.with_all)
    shown = caseload_page(listed, asked, wording_of(request), now, _mine(request, asked.choice))
    if shown.outdated_count:
        bring_up_to_date()
    query = asked.query(page=asked.page, whole=asked.whole)
    if not asked.choice.words:
        seen.keep_list(request, shown.order, query)
    partial = bool(request.htmx)
    return page(
        request,
        "caseload/list.html" if partial else "caseload/caseload.html",
        "caseload",
        partial=partial,
        asked=asked,
        shown=shown,
        now=now,
        query=query,
        lists=[
            (which.value, name, asked.query(which=which), which is asked.choice.which)
            for which, name in list_names()
        ],
        sorts=sort_names(asked.choice.which),
        settings=setting_words(),
        tiers=[(name, tier_mark(tier).word) for name, tier in TIER_NAMES.items()],
        earlier=asked.query(page=shown.page - 1),
        later=asked.query(page=shown.page + 1),
        whole=asked.query(whole=True),
    )


@require_safe
def next_family(request: Request, family_id: UUID) -> HttpResponse:
    """The family after this one in the list last shown; back to the list after the last one."""
    order = seen.list_seen(request) or _by_need(timezone.now())
    after = order[order.index(family_id) + 1 :] if family_id in order else order
    if after:
        return redirect("family", after[0])
    messages.info(request, _("That was the last family of the list."))
    query = seen.query_seen(request)
    return redirect(f"{reverse('caseload')}?{query}" if query else reverse("caseload"))


@require_safe
def shortcuts(request: Request) -> HttpResponse:
    """The page that lists the keys of a laptop and turns them off."""
    return page(request, "caseload/shortcuts.html", "shortcuts")


def _by_need(now: datetime) -> tuple[UUID, ...]:
    return tuple(row.family_id for row in list_families(now=now).rows)


def _mine(request: Request, choice: Choice) -> Mine:
    """The families of whoever asks, where the list is about them."""
    if choice.words or choice.which not in {Which.MINE, Which.RECENT}:
        return Mine()
    return mine_of(request.user.get_username(), seen.looked_at(request))


def _asked(request: Request) -> Asked:
    sent = request.GET
    number = sent.get("page", "1")
    which = LISTS.get(sent.get("list", ""), Which.ALL)
    sort = SORTS.get(sent.get("sort", ""), usual_sort(which))
    if sort is Sort.LATEST:
        sort = usual_sort(which)
    return Asked(
        choice=Choice(
            which=which,
            sort=sort,
            words=request.POST.get("q", "").strip()[:WORDS_LENGTH],
            setting=sent.get("setting", "")[:20],
            tier=TIER_NAMES.get(sent.get("tier", "")),
            with_discharged=sent.get("discharged") == "1",
        ),
        page=int(number) if number.isascii() and number.isdigit() and len(number) < 6 else 1,
        whole=sent.get("whole") == "1",
    )
