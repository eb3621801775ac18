"""Opening a family."""

from __future__ import annotations

import re
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from suffice.care.family.recording import open_family
from suffice.clinical.entry import Record
from suffice.errors import InputError
from suffice.web.family.forms import INFANTS_MOST, FamilyForm, InfantForm, record_of_forms
from suffice.web.shown.page import Request, page, wording_of

ENTRY_PLACE = re.compile(r"entries\[(\d+)\]\.")


@require_http_methods(["GET", "POST"])
def new_family(request: Request) -> HttpResponse:
    """Open a family; pressing 'another infant' keeps what was written and adds one."""
    sent = request.POST if request.method == "POST" else None
    count = _count(request)
    adding = sent is not None and "add-infant" in sent
    bound = sent if sent is not None else None
    head = FamilyForm(bound, initial=FamilyForm.fresh(timezone.now()), **_clinic(request))
    infants = [
        InfantForm(
            bound if position <= count else None, prefix=f"infant-{position}", **_clinic(request)
        )
        for position in range(1, min(count + adding, INFANTS_MOST) + 1)
    ]
    if (
        sent is not None
        and not adding
        and _valid(head, infants)
        and _opened(request, head, infants)
    ):
        messages.success(request, _("The family is on the list."))
        return redirect("family", head.cleaned_data["family_id"])
    return page(
        request,
        "family/new.html",
        "family-new",
        head=head,
        infants=infants,
        infants_count=len(infants),
        adding=adding,
        may_add=len(infants) < INFANTS_MOST,
        zone=wording_of(request).policy.zone,
    )


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
    try:
        open_family(record, now=now, actor=actor)
    except InputError as refusal:
        _distribute(refusal, record, head, infants)
        if head.errors or any(form.errors for form in infants):
            return False
        open_family(record, now=now, actor=actor, confirmed=True)
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
