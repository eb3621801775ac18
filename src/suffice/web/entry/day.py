"""The wets and stools of the last 24 hours, asked together."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4, uuid5

from django import forms
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from suffice.care.family.recording import record_entries
from suffice.clinical.entry import Basis, Entry, Stool, Wet
from suffice.clinical.entry.output import MOST_COUNT
from suffice.clinical.units import HOURS_PER_DAY
from suffice.errors import InputError, Problem
from suffice.web.access import Act, family_of
from suffice.web.entry.confirmation import name_of, say_saved
from suffice.web.entry.going import go_back
from suffice.web.entry.set_out import SetOutForm
from suffice.web.fields.moment import MomentField
from suffice.web.fields.sent import infant_sent
from suffice.web.fields.spoken import goes_together
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of, to_choose

PLACE = re.compile(r"entries\[(\d+)\]\.")
TITLE = gettext_lazy("Count of the last 24 h")


def _count(label: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=0,
        max_value=MOST_COUNT,
        widget=forms.NumberInput({"class": "short", "inputmode": "numeric"}),
    )


class DayForm(SetOutForm):
    """How many wets and stools one infant had in the 24 hours that end at a time."""

    entry_id = forms.UUIDField(widget=forms.HiddenInput)
    wets = _count(gettext_lazy("Wet diapers"))
    stools = _count(gettext_lazy("Stools"))

    def __init__(self, *args: Any, infants: Sequence[tuple[UUID, str]], **options: Any) -> None:
        """A form for the infants of one family, with their names."""
        super().__init__(*args, **options)
        own = ["wets", "stools"]
        self._only_infant = str(infants[0][0]) if infants else ""
        if len(infants) > 1:
            self._only_infant = ""
            self.fields["infant"] = forms.ChoiceField(
                choices=[(str(key), name) for key, name in infants],
                label=_("About"),
                widget=forms.RadioSelect,
            )
            own.insert(0, "infant")
        self.fields["when"] = MomentField(label=_("Until"))
        self.fields["wets"].help_text = _("0 when none was seen; leave empty when nobody counted")
        self.order_fields([*own, "when"])
        self.focus_first()

    def clean(self) -> dict[str, Any]:
        """One of the two must be known."""
        cleaned = super().clean()
        if not self.errors and cleaned.get("wets") is None and cleaned.get("stools") is None:
            self.add_error(
                "wets",
                goes_together(
                    _("Neither wets nor stools are written."), _("Enter one of them; 0 for none.")
                ),
            )
        return cleaned

    def show(self, problem: Problem, field: str) -> None:
        """Show a problem at the count that it is about."""
        found = PLACE.match(field)
        names = self._counted()
        last = field.rpartition(".")[2]
        if last == "true_at":
            field = "when"
        elif field not in self.fields and names:
            field = names[int(found[1]) if found else 0]
        super().show(problem, field)

    def _counted(self) -> list[str]:
        return [one for one in ("wets", "stools") if self.cleaned_data.get(one) is not None]

    def entries(self, *, now: datetime, actor: str) -> list[Entry]:
        """What was counted. The form must be valid."""
        sent = self.cleaned_data
        kinds = {"wets": Wet, "stools": Stool}
        infant = sent.get("infant") or self._only_infant
        return [
            Entry(
                id=uuid5(sent["entry_id"], name),
                fact=kinds[name](count=sent[name], over_h=HOURS_PER_DAY),
                basis=Basis.REPORTED,
                true_at=sent["when"],
                entered_at=now,
                entered_by=actor,
                infant_id=UUID(infant),
            )
            for name in self._counted()
        ]


@require_http_methods(["GET", "POST"])
def day(request: Request, family_id: UUID) -> HttpResponse:
    """Enter what was counted in 24 hours."""
    record = family_of(request, family_id, Act.WRITE)
    now, policy = timezone.now(), request.clinic.policy
    offered = to_choose(record, now, policy, infant_sent(request, record))
    names = names_of(record, now, policy)
    form = _form(request, [(one.id, names[one.id]) for one in offered])
    if request.method == "POST" and form.is_valid():
        entries = form.entries(now=timezone.now(), actor=request.user.get_username())
        if _stored(family_id, form, entries):
            name = name_of(request, record, entries[0].infant_id)
            sentence = _("Saved: count of the last 24 h of %(name)s.") % {"name": name}
            say_saved(request, family_id, entries, sentence=sentence, can_undo=True)
            return go_back(request, family_id)
    return page(
        request,
        "entry/entry.html",
        form=form,
        title=TITLE,
        family_id=family_id,
        family_name=names[None],
        whose=names[None] if len(offered) > 1 else names[offered[0].id],
        zone=policy.zone,
    )


def _form(request: Request, infants: Sequence[tuple[UUID, str]]) -> DayForm:
    wording, now = wording_of(request), timezone.now()
    return DayForm(
        request.POST if request.method == "POST" else None,
        policy=request.clinic.policy,
        content=request.clinic.content,
        infants=infants,
        initial={
            "entry_id": uuid4(),
            "when": wording.field(now.replace(second=0, microsecond=0)),
            "infant": request.GET.get("infant", ""),
        },
    )


def _stored(family_id: UUID, form: DayForm, entries: list[Entry]) -> bool:
    """Store the counts; False with problems and questions in the form when that cannot be."""
    now = entries[0].entered_at
    try:
        record_entries(family_id, entries, now=now)
    except InputError as refusal:
        form.refuse(refusal)
        if form.errors:
            return False
        record_entries(family_id, entries, now=now, confirmed=True)
    return True
