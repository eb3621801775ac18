"""The teams of the clinic: which there are, who belongs to each; an administrator makes and names them."""

from __future__ import annotations

from typing import NamedTuple
from uuid import UUID, uuid4

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from suffice.care.clinic.accounts import people
from suffice.care.clinic.teams import TEAM_NAME_LENGTH, add_team, rename_team
from suffice.errors import InputError
from suffice.web.access import Act, need
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.people.account import ROLES
from suffice.web.shown.page import Request, page


class TeamForm(SpokenForm):
    """A team's name."""

    team_id = forms.UUIDField(widget=forms.HiddenInput)
    name = forms.CharField(label=gettext_lazy("Name of the team"), max_length=TEAM_NAME_LENGTH)

    def save(self, request: Request) -> bool:
        """Make or name the team; False with the problem at its field when that cannot be done."""
        team_id, name = self.cleaned_data["team_id"], self.cleaned_data["name"]
        try:
            if team_id in request.access.teams:
                rename_team(request.access, team_id, name)
            else:
                add_team(request.access, team_id, name, now=timezone.now())
        except InputError as refusal:
            for problem in refusal.problems:
                self.add_error("name", words_of(problem))
            return False
        return True


class Shown(NamedTuple):
    """A team with the people in it."""

    team_id: UUID
    name: str
    members: tuple[str, ...]
    form: TeamForm


@require_http_methods(["GET", "POST"])
def list_teams(request: Request) -> HttpResponse:
    """List the teams; name one, or make another."""
    need(request, Act.TEAMS)
    sent = TeamForm(request.POST, prefix=request.POST.get("form", "")) if request.POST else None
    if sent is not None and sent.is_valid() and sent.save(request):
        messages.success(request, _("Saved."))
        return redirect("teams")
    fresh = TeamForm(prefix="new", initial={"team_id": uuid4()})
    everybody = [one for one in people() if one.account.is_active]
    shown = [
        Shown(
            team_id,
            name,
            tuple(
                f"{one.account.called or one.account.name} ({ROLES[one.roles[team_id]]})"
                for one in everybody
                if team_id in one.roles
            ),
            _form_of(team_id, name, sent),
        )
        for team_id, name in request.access.teams.items()
    ]
    new = sent if sent is not None and sent.prefix == "new" else fresh
    return page(request, "teams/teams.html", "teams", teams=shown, new=new)


def _form_of(team_id: UUID, name: str, sent: TeamForm | None) -> TeamForm:
    if sent is not None and sent.prefix == str(team_id):
        return sent
    return TeamForm(prefix=str(team_id), initial={"team_id": team_id, "name": name})
