"""Passing a family on, or the list of a shift: to a colleague, or to another team."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods

from suffice.care.caseload.choosing import Choice, Which, chosen, mine_of
from suffice.care.caseload.listing import caseload
from suffice.care.caseload.passing import NOTE_LENGTH, colleagues, pass_on
from suffice.care.clinic.access import Access
from suffice.errors import InputError
from suffice.web.access import Act, family_of, need
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of
from suffice.web.shown.wording import called

TEAM = "team"


class PassForm(SpokenForm):
    """To whom, and what to say."""

    to = forms.ChoiceField(label=gettext_lazy("To whom"), widget=forms.RadioSelect)
    text = forms.CharField(
        label=gettext_lazy("What to look at first"),
        required=False,
        max_length=NOTE_LENGTH,
        widget=forms.Textarea({"rows": 3}),
        help_text=gettext_lazy(
            "For whoever takes them; nothing clinical that is not on the record"
        ),
    )

    def __init__(
        self,
        *args: Any,
        access: Access,
        families: Sequence[tuple[str, str]] | None = None,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        takers = _takers(access)
        self.has_takers = bool(takers)
        cast("forms.ChoiceField", self.fields["to"]).choices = takers
        if families is not None:
            self.fields["families"] = forms.MultipleChoiceField(
                label=_("Families"),
                choices=families,
                initial=[key for key, _name in families],
                widget=forms.CheckboxSelectMultiple,
            )
            self.order_fields(["families", "to", "text"])

    def pass_on(self, request: Request, family_ids: Sequence[UUID]) -> bool:
        """Pass them on; False with the problem at its field when that cannot be done."""
        who, team = self.cleaned_data["to"].split(" ")
        try:
            pass_on(
                request.access,
                family_ids,
                team_id=UUID(team),
                colleague_id=None if who == TEAM else int(who),
                text=self.cleaned_data["text"],
                now=timezone.now(),
            )
        except InputError as refusal:
            if any(one.where not in self.fields for one in refusal.problems):
                raise
            for problem in refusal.problems:
                self.add_error(str(problem.where), words_of(problem))
            return False
        count = len(family_ids)
        text = ngettext("%(n)s family is passed on.", "%(n)s families are passed on.", count)
        messages.success(request, text % {"n": count})
        return True


def _takers(access: Access) -> list[tuple[str, str]]:
    """Colleagues by team, then whole teams; teams are named only where there are several."""
    people = [
        (
            f"{one.user_id} {one.team_id}",
            f"{one.called} ({access.teams[one.team_id]})" if access.shows_teams else one.called,
        )
        for one in colleagues()
        if one.user_id != access.user_id
    ]
    if not access.shows_teams:
        return people
    whole = _("The whole team %(name)s")
    return [*people, *((f"{TEAM} {one}", whole % {"name": n}) for one, n in access.teams.items())]


@require_http_methods(["GET", "POST"])
def pass_one_on(request: Request, family_id: UUID) -> HttpResponse:
    """Pass one family on."""
    record = family_of(request, family_id, Act.PASS_ON)
    form = PassForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid() and form.pass_on(request, [family_id]):
        return redirect("caseload")
    name = names_of(record, timezone.now(), wording_of(request).policy)[None]
    return page(request, "teams/pass_on.html", form=form, family_id=family_id, family_name=name)


@require_http_methods(["GET", "POST"])
def pass_list_on(request: Request) -> HttpResponse:
    """Pass a list on: one's own families, each chosen unless it is left out."""
    need(request, Act.PASS_ON)
    form = PassForm(request.POST or None, access=request.access, families=_mine(request))
    if request.method == "POST" and form.is_valid():
        ids = [UUID(one) for one in form.cleaned_data["families"]]
        if form.pass_on(request, ids):
            return redirect("caseload")
    return page(request, "teams/pass_on.html", form=form)


def _mine(request: Request) -> list[tuple[str, str]]:
    access, now, policy = request.access, timezone.now(), wording_of(request).policy
    listed = caseload(now=now, team_ids=access.teams_for(Act.PASS_ON))
    mine = mine_of(access.name, user_id=access.user_id)
    rows = chosen(listed.rows, Choice(which=Which.MINE), policy, now, mine)
    return [(str(row.family_id), called(row.name) or _("Family without a name")) for row in rows]
