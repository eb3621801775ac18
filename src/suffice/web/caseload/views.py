"""The caseload: who needs someone now, and why; and the way from one family to the next."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import get_args
from uuid import UUID

import msgspec
from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from suffice.care.caseload.choosing import Choice, Mine, Sort, Which, chosen, mine_of
from suffice.care.caseload.emergency import opened_in_emergency
from suffice.care.caseload.listing import caseload as list_families
from suffice.care.clinic.people import full_names
from suffice.care.family.erasing import erased_since
from suffice.care.papers.shift import shift_of
from suffice.documents.page import pdf_of
from suffice.documents.shift_page import shift_page
from suffice.knowledge.policy import Language, PaperSize
from suffice.message import message
from suffice.web.access import Act, allowed
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
from suffice.web.fields.sent import number_sent
from suffice.web.shown.fact import setting_words
from suffice.web.shown.mark import tier_mark
from suffice.web.shown.page import Request, one_of, page, wording_of

WORDS_LENGTH = 80
PAGES_MOST = 99_999
REFRESHED = 50
"""How many outdated families are assessed anew before a shift is handed over, the most urgent ones."""
UNSENT_FOR = timedelta(days=1)
"""How long a device keeps a form that was not sent."""
WHICH_NAMES = {
    Which.ALL: message("All families"),
    Which.MINE: message("My families"),
    Which.DUE: message("Due today"),
    Which.RECENT: message("Recent families"),
}
LISTS = {one.value: one for one in Which}
SORTS = {one.value: one for one in Sort}


@require_http_methods(["GET", "HEAD", "POST"])
def caseload(request: Request) -> HttpResponse:
    """The families as asked for; only the list itself when htmx asks.

    A name is sent in the body of a POST and never stands in an address.
    """
    if not request.access.sees_families:
        return page(request, "caseload/no_families.html", "caseload")
    asked = _asked(request)
    now = timezone.now()
    listed = list_families(
        now=now, with_discharged=asked.choice.with_all, team_ids=request.access.scope
    )
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
        unseen=_unseen(request),
        passed_over=_passed_over(request),
        erased=() if partial else erased_since(now - UNSENT_FOR),
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
def shift(request: Request) -> HttpResponse:
    """The hand-over of the shift as a file: the list as asked for, by urgency, all of it."""
    now, policy = timezone.now(), request.clinic.policy
    sent = request.GET
    choice = msgspec.structs.replace(_asked(request).choice, sort=Sort.NEED)
    listed = list_families(
        now=now,
        with_discharged=choice.with_all,
        refresh_limit=REFRESHED,
        team_ids=request.access.scope,
    )
    rows = chosen(listed.rows, choice, policy, now, _mine(request, choice))
    user = request.user.get_username()
    made = shift_of(
        rows,
        request.clinic,
        now=now,
        language=one_of(sent.get("language", ""), get_args(Language), policy.language),
        size=one_of(sent.get("size", ""), get_args(PaperSize), policy.paper_size),
        author=full_names().get(user, user),
        which=WHICH_NAMES[choice.which],
    )
    local = wording_of(request).local(now)
    response = HttpResponse(pdf_of(shift_page(made), settings.HOME), "application/pdf")
    response["Content-Disposition"] = f'inline; filename="shift-{local:%Y%m%d-%H%M}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


@require_safe
def next_family(request: Request, family_id: UUID) -> HttpResponse:
    """The family after this one in the list last shown; back to the list after the last one."""
    allowed(request, family_id, Act.READ)
    order = seen.list_seen(request) or _by_need(request, timezone.now())
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


def _by_need(request: Request, now: datetime) -> tuple[UUID, ...]:
    listed = list_families(now=now, team_ids=request.access.scope)
    return tuple(row.family_id for row in listed.rows)


def _mine(request: Request, choice: Choice) -> Mine:
    """The families of whoever asks, where the list is about them."""
    if choice.words or choice.which not in {Which.MINE, Which.RECENT}:
        return Mine()
    access = request.access
    return mine_of(access.name, seen.looked_at(request), user_id=access.user_id)


def _passed_over(request: Request) -> int:
    """How many of the clinic's own values are not in force, for who can change them."""
    if not request.access.changes_policy:
        return 0
    return len(request.clinic.policy.passed_over(request.clinic.content))


def _unseen(request: Request) -> int:
    """How many families others opened in an emergency that a lead has not seen yet."""
    access = request.access
    if not (access.shows_teams and access.oversees):
        return 0
    return len(opened_in_emergency(access, only_unseen=True))


def _asked(request: Request) -> Asked:
    sent = request.GET
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
        page=number_sent(sent.get("page", "1"), PAGES_MOST) or 1,
        whole=sent.get("whole") == "1",
    )
