"""Erasing a family: one person asks on the family's page, another confirms in a list without names."""

from __future__ import annotations

from typing import NamedTuple, cast
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from suffice.care.clinic.people import full_names
from suffice.care.family.erasing import (
    WHY,
    ask_for_erasure,
    erase,
    free_from,
    refuse_erasure,
    still_in_backups,
    waiting,
)
from suffice.care.papers.whole import whole_export
from suffice.errors import InputError
from suffice.record import erasure
from suffice.record.erasure import Erased
from suffice.record.erasure import Request as Asked
from suffice.web.access import Act, allowed, family_of, need
from suffice.web.fields.choices import radios
from suffice.web.fields.refused import say_refused
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.papers.asked import asked_of
from suffice.web.people.owner import OwnerForm, is_owner
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of
from suffice.web.shown.wording import in_words


class AskForm(SpokenForm):
    """Why."""

    why = radios([], gettext_lazy("Why?"), required=True)

    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)  # type: ignore[arg-type]
        cast("forms.ChoiceField", self.fields["why"]).choices = [
            (key, in_words(words)) for key, words in WHY.items()
        ]


@require_http_methods(["GET", "POST"])
@never_cache
def ask(request: Request, family_id: UUID) -> HttpResponse:
    """Say from when on the family may be erased and what that reaches; ask for it."""
    record = family_of(request, family_id, Act.ERASE)
    now, form = timezone.now(), AskForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            ask_for_erasure(request.access, family_id, form.cleaned_data["why"], now=now)
        except InputError as refusal:
            for problem in refusal.problems:
                form.add_error(None, words_of(problem))
        else:
            messages.success(request, _("Asked for. Somebody else confirms it."))
            return redirect("erase", family_id)
    free_at = free_from(record, request.clinic.policy.retention_years)
    return page(
        request,
        "erasure/ask.html",
        form=form,
        family={"id": family_id, "name": names_of(record, now, wording_of(request).policy)[None]},
        free_at=free_at,
        is_free=free_at is not None and free_at <= now,
        asked=_shown(request, erasure.request_of(family_id)),
    )


@require_safe
@never_cache
def export_whole(request: Request, family_id: UUID) -> HttpResponse:
    """All that is kept of a family as one file."""
    content = whole_export(
        allowed(request, family_id, Act.EXPORT), asked_of(request), request.clinic
    )
    response = HttpResponse(content, "application/zip")
    response["Content-Disposition"] = f'attachment; filename="family-{family_id}.zip"'
    response["Cache-Control"] = "no-store"
    return response


class Shown(NamedTuple):
    """A request as a page shows it; `is_own` for whoever made it, who cannot confirm it.

    `form` asks whoever confirms it for the current passphrase: else one person could be both at a screen that the
    other left open.
    """

    asked: Asked
    who: str
    why: str
    is_own: bool
    may_open: bool
    form: OwnerForm


class Done(NamedTuple):
    """An erasure that was done; `in_backups` are folders of backups in which it can still be read."""

    erased: Erased
    why: str
    in_backups: tuple[str, ...]


@require_http_methods(["GET", "POST"])
@never_cache
def erasures(request: Request) -> HttpResponse:
    """What is asked for, to be confirmed or refused by somebody else; what was done."""
    need(request, Act.CONFIRM_ERASURE)
    if request.method == "POST":
        family_id = _sent(request)
        try:
            if request.POST.get("do") == "erase" and family_id:
                if not is_owner(request):
                    return redirect("erasures")
                erase(request.access, family_id, now=timezone.now())
                _say_erased(request, family_id)
            elif family_id:
                refuse_erasure(request.access, family_id)
                messages.success(request, _("Refused: the family stays."))
        except InputError as refusal:
            say_refused(request, refusal)
        return redirect("erasures")
    done = [Done(one, _why(one.why), still_in_backups([one.family_id])) for one in erasure.every()]
    shown = [_shown(request, one) for one in waiting(request.access)]
    return page(request, "erasure/erasures.html", "erasures", shown=shown, done=done[::-1])


def _why(key: str) -> str:
    """The reason in words; as it stands, where it is none of ours."""
    return in_words(WHY[key]) if key in WHY else key


def _say_erased(request: Request, family_id: UUID) -> None:
    if folders := still_in_backups([family_id]):
        text = _(
            "Erased. In backups it can still be read, until these folders can be reached: %(f)s"
        )
        messages.warning(request, text % {"f": ", ".join(folders)})
    else:
        messages.success(request, _("Erased, in every backup too."))


def _shown(request: Request, asked: Asked | None) -> Shown | None:
    if asked is None:
        return None
    return Shown(
        asked,
        full_names().get(asked.by, asked.by),
        _why(asked.why),
        asked.by == request.access.name,
        request.access.sees_families,
        OwnerForm(request=request, auto_id=f"{asked.family_id}-%s"),
    )


def _sent(request: Request) -> UUID | None:
    try:
        return UUID(request.POST.get("family", ""))
    except ValueError:
        return None
