"""The people of the clinic: who may sign in, what each may do, and one-time links."""

from __future__ import annotations

from typing import Any, NamedTuple, cast
from urllib.parse import urlsplit
from uuid import UUID

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from suffice.care.clinic import accounts as desk
from suffice.care.clinic import outside
from suffice.care.clinic.access import Access
from suffice.care.clinic.accounts import Invitation, Person, may_manage, people
from suffice.care.clinic.roles import Duty, Role
from suffice.errors import InputError
from suffice.web.access import Act, need
from suffice.web.fields.choices import radios
from suffice.web.fields.refused import say_refused
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.people.account import (
    DUTIES,
    ROLES,
    does_what,
    full_name_field,
    profession_field,
)
from suffice.web.people.outside import is_set_up
from suffice.web.people.owner import OwnerForm, is_owner
from suffice.web.people.passphrase import sign_in_name_field
from suffice.web.shown.page import Request, page

NO_ROLE = "none"


ASKED: list[tuple[str, Any]] = [
    (Role.CONSULTANT, gettext_lazy("Consultant: sees and enters")),
    (Role.READER, gettext_lazy("Reader: sees, enters nothing")),
    (Role.LEAD, gettext_lazy("Lead: consultant, and changes users and policy")),
    (Duty.ADMINISTRATOR, gettext_lazy("Administrator: users and policy, no family")),
    (Duty.AUDITOR, gettext_lazy("Auditor: who did what, no family")),
]


class InviteForm(SpokenForm):
    """Somebody new: who, and as what."""

    name = sign_in_name_field()
    full_name = full_name_field()
    profession = profession_field()
    role = radios(ASKED, gettext_lazy("Role"), required=True)
    team = forms.ChoiceField(label=gettext_lazy("Team"), required=False)

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial["role"] = Role.CONSULTANT
        self.fields["full_name"].label = _("The person's own name")
        may_give = access.teams if access.is_administrator else access.teams_for(Act.PEOPLE)
        offered = [(str(one), access.teams[one]) for one in may_give]
        if len(offered) > 1:
            cast("forms.ChoiceField", self.fields["team"]).choices = offered
        else:
            del self.fields["team"]
        self.only_team = UUID(offered[0][0]) if offered else None
        if not access.is_administrator:
            role = cast("forms.ChoiceField", self.fields["role"])
            role.choices = [one for one in ASKED if one[0] in set(Role)]

    def invite(self, access: Access) -> str | None:
        """The token of the link; None with the problems at their fields when that cannot be done."""
        sent = self.cleaned_data
        is_duty = sent["role"] in set(Duty)
        team = UUID(sent["team"]) if sent.get("team") else self.only_team
        asked = Invitation(
            name=sent["name"],
            full_name=sent["full_name"],
            profession=sent["profession"],
            team_id=None if is_duty else team,
            role=Role.READER if is_duty else Role(sent["role"]),
            duties=frozenset({Duty(sent["role"])}) if is_duty else frozenset(),
        )
        try:
            return desk.invite(access, asked, now=timezone.now())
        except InputError as refusal:
            for problem in refusal.problems:
                place = str(problem.where)
                self.add_error(place if place in self.fields else None, words_of(problem))
        return None


class PersonForm(SpokenForm):
    """What a person is called."""

    full_name = full_name_field()
    profession = profession_field()

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["full_name"].label = _("The person's own name")


class Listed(NamedTuple):
    """A person in the list of users."""

    person: Person
    does: str
    can_change: bool


class InTeam(NamedTuple):
    """A team, and the role that a person has in it; `can_change` where whoever looks may give another."""

    team_id: UUID
    name: str
    role: str
    called: str
    can_change: bool


@require_http_methods(["GET", "POST"])
@never_cache
def list_people(request: Request) -> HttpResponse:
    """Who may sign in; who may invite does so here."""
    access = request.access
    form = None
    if request.method == "POST":
        need(request, Act.PEOPLE)
    if access.manages_people:
        form = InviteForm(request.POST or None, access=access)
        if request.method == "POST" and form.is_valid():
            token = form.invite(access)
            if token is not None:
                return _link_page(request, form.cleaned_data["name"], token, is_new=True)
    listed = [
        Listed(one, does_what(one, access), may_manage(access, one) and access.manages_people)
        for one in people()
    ]
    return page(request, "people/people.html", "people", form=form, listed=listed)


@require_http_methods(["GET", "POST"])
@never_cache
def person(request: Request, user: str) -> HttpResponse:
    """One person's account, for who may change it."""
    need(request, Act.PEOPLE)
    access = request.access
    found = desk.person_called(user)
    form = PersonForm(
        request.POST if request.POST.get("do") == "names" else None,
        initial={"full_name": found.account.called, "profession": found.account.profession},
    )
    if request.method == "POST":
        done = _done(request, found, form)
        if done is not None:
            return done
    may_change = may_manage(access, found)
    is_own = found.account.id == access.user_id
    return page(
        request,
        "people/person.html",
        "people",
        person=found,
        form=form,
        may_change=may_change,
        is_own=is_own,
        in_teams=_in_teams(found, access, can_change=not is_own),
        roles=[(NO_ROLE, _("No role"))] + [(one.value, name) for one, name in ROLES.items()],
        duties=[(one.value, name, one in found.duties) for one, name in DUTIES.items()],
        now=timezone.now(),
        may_link=is_set_up() and access.is_administrator,
        owner=OwnerForm(request=request) if is_own else None,
        linked=outside.linked_to(found.account.id),
    )


def _in_teams(found: Person, access: Access, *, can_change: bool) -> list[InTeam]:
    given = access.teams if access.is_administrator else access.teams_for(Act.PEOPLE)
    return [
        InTeam(
            team,
            name,
            found.roles.get(team, NO_ROLE),
            str(ROLES[found.roles[team]]) if team in found.roles else _("No role"),
            can_change and team in given,
        )
        for team, name in access.teams.items()
    ]


def _done(request: Request, found: Person, form: PersonForm) -> HttpResponse | None:
    """Do what was pressed; None where the form must be shown again."""
    access, name, sent = request.access, found.account.name, request.POST
    do = sent.get("do", "")
    if do == "names":
        if not form.is_valid():
            return None
        desk.change_person(access, name, **form.cleaned_data)
        messages.success(request, _("Saved."))
    elif do == "reset":
        token = desk.reset(access, name, now=timezone.now())
        return _link_page(request, name, token, is_new=False)
    elif do in {"deactivate", "activate"}:
        desk.set_active(access, name, is_active=do == "activate")
        text = (
            _("%(name)s can sign in again.")
            if do == "activate"
            else _("%(name)s cannot sign in any more; every session has ended.")
        )
        messages.success(request, text % {"name": name})
    elif do == "factor":
        desk.remove_factor(access, name)
        messages.success(request, _("%(name)s signs in without a code again.") % {"name": name})
    elif do == "outside" and is_set_up():
        return _linked(request, found)
    elif do == "end-sessions":
        count = desk.end_sessions(access, name)
        ended = ngettext("%(n)s session ended.", "%(n)s sessions ended.", count)
        messages.success(request, ended % {"n": count})
    elif do == "role" and sent.get("role") in {NO_ROLE, *Role} and _team(request) is not None:
        role = None if sent["role"] == NO_ROLE else Role(sent["role"])
        desk.set_role(access, name, _team(request) or UUID(int=0), role)
        messages.success(request, _("Saved; it counts from the next page."))
    elif do in {f"duty-{one}" for one in Duty}:
        duty = Duty(do.removeprefix("duty-"))
        desk.set_duty(access, name, duty, has_it=duty not in found.duties)
        messages.success(request, _("Saved; it counts from the next page."))
    else:
        return None
    return redirect("person", name)


def _linked(request: Request, found: Person) -> HttpResponse:
    """Link a person to an account at the provider; say what is wrong with it.

    Who links the own account shows to be its owner: else whoever sits down at an open screen had a way in for good.
    """
    issuer: str = settings.SUFFICE_OIDC["issuer"]
    name = found.account.name
    if found.account.id == request.access.user_id and not is_owner(request):
        return redirect("person", name)
    try:
        outside.link(
            request.access, name, issuer, request.POST.get("linked", ""), now=timezone.now()
        )
        messages.success(request, _("Saved."))
    except InputError as refusal:
        say_refused(request, refusal)
    return redirect("person", name)


def _team(request: Request) -> UUID | None:
    try:
        team = UUID(request.POST.get("team", ""))
    except ValueError:
        return None
    return team if team in request.access.teams else None


def _link_page(request: HttpRequest, name: str, token: str, *, is_new: bool) -> HttpResponse:
    """The one page that shows a one-time link."""
    link = _whole(request, reverse("choose-passphrase", args=[token]))
    days = desk.INVITED_FOR.days if is_new else desk.RESET_FOR.days
    return page(
        request, "people/link.html", "people", name=name, link=link, days=days, is_new=is_new
    )


def _whole(request: HttpRequest, path: str) -> str:
    """The whole address of a path, as whoever asks for it has it: with a port that a proxy left out.

    Where a browser names where its form came from, that has been looked at before the form is taken.
    """
    origin, host = urlsplit(request.headers.get("Origin", "")), urlsplit(f"//{request.get_host()}")
    if origin.scheme == request.scheme and origin.hostname == host.hostname:
        return f"{origin.scheme}://{origin.netloc}{path}"
    return request.build_absolute_uri(path)
