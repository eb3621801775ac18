"""Opening a family of another team in an emergency, and what its leads see of that."""

from __future__ import annotations

from typing import NamedTuple
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from suffice.care.caseload.emergency import (
    EMERGENCY_FOR,
    REASON_LENGTH,
    find_elsewhere,
    note_seen,
    open_in_emergency,
    opened_in_emergency,
)
from suffice.care.caseload.listing import CaseloadRow
from suffice.care.clinic.people import full_names
from suffice.errors import InputError
from suffice.record.teams import Opened
from suffice.web.access import Act, need
from suffice.web.fields.sent import number_sent
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.wording import called

WORDS_LENGTH = 80
ROWS_MOST = 10**15


class FindForm(SpokenForm):
    """Whom, and why."""

    why = forms.CharField(
        label=gettext_lazy("Why do you need it now?"),
        max_length=REASON_LENGTH,
        widget=forms.Textarea({"rows": 2}),
        help_text=gettext_lazy(
            "The leads of that team read it, with your name and the time; it stays on the trail, so name nobody"
        ),
    )
    words = forms.CharField(
        label=gettext_lazy("Name of the parent or infant"),
        max_length=WORDS_LENGTH,
        help_text=gettext_lazy("Whole words; or the number of the family"),
        widget=forms.TextInput({"autocomplete": "off", "spellcheck": "false"}),
    )


class Found(NamedTuple):
    """A family of another team that was found."""

    family_id: UUID
    name: str


@require_http_methods(["GET", "POST"])
@never_cache
def find(request: Request) -> HttpResponse:
    """Find a family of another team, then open it; either needs a reason."""
    need(request, Act.WRITE)
    form = FindForm(request.POST or None)
    found: list[Found] | None = None
    if request.method == "POST" and form.is_valid():
        try:
            if family_id := _chosen(request):
                until = open_in_emergency(
                    request.access, family_id, form.cleaned_data["why"], now=timezone.now()
                )
                at = wording_of(request).near(until, timezone.now())
                messages.warning(request, _("Open to you until %(at)s.") % {"at": at})
                return redirect("family", family_id)
            rows = _found(request, form)
        except InputError as refusal:
            for problem in refusal.problems:
                place = str(problem.where)
                form.add_error(place if place in form.fields else None, words_of(problem))
        else:
            unnamed = _("Family without a name")
            found = [Found(one.family_id, called(one.name) or unnamed) for one in rows]
    hours = int(EMERGENCY_FOR.total_seconds() // 3600)
    return page(request, "teams/emergency.html", "emergency", form=form, found=found, hours=hours)


def _found(request: Request, form: FindForm) -> tuple[CaseloadRow, ...]:
    return find_elsewhere(
        request.access,
        form.cleaned_data["words"],
        wording_of(request).policy,
        why=form.cleaned_data["why"],
        now=timezone.now(),
    )


def _chosen(request: Request) -> UUID | None:
    try:
        return UUID(request.POST.get("family", ""))
    except ValueError:
        return None


class OpenedShown(NamedTuple):
    """What a lead sees of a family that somebody opened."""

    opened: Opened
    who: str
    team: str


@require_http_methods(["GET", "POST"])
@never_cache
def opened(request: Request) -> HttpResponse:
    """What was opened in an emergency of the teams that somebody leads."""
    need(request, Act.OVERSEE)
    if request.method == "POST":
        sent = (number_sent(one, ROWS_MOST) for one in request.POST.getlist("seen"))
        numbers = [one for one in sent if one is not None]
        note_seen(request.access, numbers, now=timezone.now())
        messages.success(request, _("Noted as seen."))
        return redirect("emergency-opened")
    names = full_names()
    shown = [
        OpenedShown(one, names.get(one.user, one.user), request.access.teams[one.team_id])
        for one in opened_in_emergency(request.access)
    ]
    return page(request, "teams/opened.html", "emergency-opened", shown=shown)
