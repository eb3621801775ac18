"""Opening a family."""

from __future__ import annotations

import re
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from suffice.care.clinic.access import check_import, team_of_new
from suffice.care.family.recording import open_family
from suffice.clinical.entry import Record
from suffice.errors import InputError
from suffice.web.access import Act, need, teams_to_choose
from suffice.web.entry.going import go
from suffice.web.family.forms import (
    INFANTS_MOST,
    SETTING_CHOICES,
    FamilyForm,
    InfantForm,
    record_of_forms,
)
from suffice.web.shown.page import Request, page, wording_of

ENTRY_PLACE = re.compile(r"entries\[(\d+)\]\.")


SESSION_SETTING = "setting"
CARRIED_OVER = ("born", "gestation", "mode")
"""What twins most often share; each can be changed."""


@require_http_methods(["GET", "POST"])
def new_family(request: Request) -> HttpResponse:
    """Open a family; pressing 'another infant' keeps what was written and adds one."""
    need(request, Act.OPEN)
    if request.method == "POST" and "add-infant" not in request.POST:
        count = _count(request)
        head = FamilyForm(request.POST, teams=teams_to_choose(request), **_clinic(request))
        infants = [
            InfantForm(request.POST, prefix=_prefix(place), **_clinic(request))
            for place in range(1, count + 1)
        ]
        if _valid(head, infants) and _opened(request, head, infants):
            request.session[SESSION_SETTING] = head.cleaned_data["setting"]
            messages.success(request, _("The family is on the list."))
            return go(request, "family", head.cleaned_data["family_id"])
    else:
        head, infants = _unsent(request)
    return page(
        request,
        "family/new.html",
        "family-new",
        head=head,
        infants=infants,
        infants_count=len(infants),
        may_add=len(infants) < INFANTS_MOST,
        setting_word=dict(SETTING_CHOICES).get(str(head["setting"].value()), ""),
        zone=wording_of(request).policy.zone,
    )


def _unsent(request: Request) -> tuple[FamilyForm, list[InfantForm]]:
    """The forms as they were written so far, one infant more where that was asked for.

    Nothing is judged yet: what is still missing is no mistake.
    """
    written = request.POST
    fresh = FamilyForm.fresh(timezone.now())
    fresh["setting"] = request.session.get(SESSION_SETTING, fresh["setting"])
    head = FamilyForm(
        initial=fresh | {name: written[name] for name in FamilyForm.base_fields if name in written},
        teams=teams_to_choose(request),
        **_clinic(request),
    )
    count = _count(request) + ("add-infant" in written)
    infants = []
    for place in range(1, min(count, INFANTS_MOST) + 1):
        names = InfantForm.base_fields
        own = {name: written.get(f"{_prefix(place)}-{name}", "") for name in names}
        if f"{_prefix(place)}-born" not in written and place > 1:
            own = {name: written.get(f"{_prefix(1)}-{name}", "") for name in CARRIED_OVER}
        infants.append(InfantForm(initial=own, prefix=_prefix(place), **_clinic(request)))
    return head, infants


def _prefix(place: int) -> str:
    return f"infant-{place}"


def _clinic(request: Request) -> dict[str, Any]:
    clinic = request.clinic
    return {"policy": clinic.policy, "content": clinic.content}


def _count(request: Request) -> int:
    text = request.POST.get("infants_count", "1")
    if not (text.isascii() and text.isdecimal()):
        return 1
    return max(1, min(int(text[:3]), INFANTS_MOST))


def _valid(head: FamilyForm, infants: list[InfantForm]) -> bool:
    """Whether every form is; all of them are asked, so that all problems are shown at once."""
    return all([head.is_valid(), *(form.is_valid() for form in infants)])


def _opened(request: Request, head: FamilyForm, infants: list[InfantForm]) -> bool:
    """Open the family; False with problems and questions in the forms when it cannot be."""
    now, actor = timezone.now(), request.user.get_username()
    record = record_of_forms(head, infants, now=now, actor=actor)
    # A family with this id may be there already, sent twice or another team's.
    check_import(request.access, [record.family_id], now=now)
    named = head.cleaned_data.get("team")
    team_id = team_of_new(request.access, UUID(named) if named else None, now=now)
    try:
        open_family(record, now=now, actor=actor, team_id=team_id)
    except InputError as refusal:
        _distribute(refusal, record, head, infants)
        if head.errors or any(form.errors for form in infants):
            return False
        open_family(record, now=now, actor=actor, confirmed=True, team_id=team_id)
    return True


def _distribute(
    refusal: InputError, record: Record, head: FamilyForm, infants: list[InfantForm]
) -> None:
    """Give each problem to the form whose entry it is about."""
    positions = {infant.id: infant.position for infant in record.infants}
    for problem in refusal.problems:
        found = ENTRY_PLACE.match(str(problem.where))
        entry = record.entries[int(found[1])] if found else None
        position = positions.get(entry.infant_id) if entry and entry.infant_id else None
        form = infants[position - 1] if position else head
        form.show(problem, str(problem.where))
