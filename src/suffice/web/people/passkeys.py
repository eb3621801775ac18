"""Passkeys: signing in with one, and those of one's own account."""

from __future__ import annotations

from typing import Any, Final
from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from suffice.care.clinic import passkey
from suffice.care.clinic.passkey import Begun, Site
from suffice.errors import InputError
from suffice.record.accounts import end_sessions, passkeys_of
from suffice.web.fields.refused import say_refused
from suffice.web.fields.spoken import words_of
from suffice.web.people.code import BACKEND, WAITING, next_of, waiting_user
from suffice.web.people.idle import nobodys_for_a_moment, open_session
from suffice.web.people.known import remember_browser
from suffice.web.people.owner import OwnerForm
from suffice.web.shown.page import Request, page

ASKED: Final = "passkey asked"
ASKED_FOR_S: Final = 300
"""How long a device may take to answer."""


class AddForm(OwnerForm):
    """What a new passkey is called, what the device answered, and that it is its owner who adds it."""

    field_order = ("called", "passphrase", "answer")
    called = forms.CharField(
        label=gettext_lazy("Name of the passkey"),
        max_length=passkey.NAME_LENGTH,
        help_text=gettext_lazy("The device that it is on, for example: my phone"),
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    answer = forms.CharField(
        required=False, max_length=passkey.ANSWER_LENGTH, widget=forms.HiddenInput
    )


@never_cache
@require_http_methods(["GET", "POST"])
def passkeys(request: Request) -> HttpResponse:
    """The passkeys of one's own account: add one, name it, remove it."""
    access, do = request.access, request.POST.get("do", "")
    site = _site(request)
    if do == "begin":
        return _asked(request, passkey.begin_adding(site, access.user_id, access.name))
    form = AddForm(request.POST if do == "add" else None, request=request)
    if do == "add" and form.is_valid() and _added(request, site, form):
        messages.success(request, _("The passkey is added: it signs you in from now on."))
        return redirect("passkeys")
    key = _key(request)
    if do == "rename" and key is not None:
        passkey.rename(access.user_id, key, request.POST.get("called", ""))
        return redirect("passkeys")
    if do == "remove":
        return _removed(request, key)
    return page(
        request,
        "people/passkeys.html",
        "account",
        form=form,
        kept=passkeys_of(access.user_id),
        is_asked=request.clinic.policy.second_factor and not access.has_factor,
    )


@login_not_required
@never_cache
@require_POST
def sign_in(request: Request) -> HttpResponse:
    """Sign in with a passkey: first the question, then the answer of the device."""
    waiting: dict[str, Any] = request.session.get(WAITING, {})
    first = waiting_user(waiting)
    site, now = _site(request), timezone.now()
    if request.POST.get("do") == "begin":
        return _asked(request, passkey.begin_signing_in(site, first.pk if first else None))
    try:
        user_id = passkey.person_of(
            site,
            state=_state(request),
            answer=request.POST.get("answer", ""),
            now=now,
            only=first.pk if first else None,
        )
    except InputError as refusal:
        user_login_failed.send(__name__, credentials={}, request=request)
        say_refused(request, refusal)
        return redirect("sign-in")
    user = User.objects.get(pk=user_id)
    going_to = next_of(request, waiting or {"next": request.POST.get("next", "/")})
    login(request, user, BACKEND)
    request.session.pop(WAITING, None)
    open_session(request)
    response = redirect(going_to)
    remember_browser(request, response, user.get_username())
    return response


def _removed(request: Request, key: UUID | None) -> HttpResponse:
    """Remove a passkey, once its owner has said so with the current passphrase."""
    access = request.access
    kept = next((one for one in passkeys_of(access.user_id) if one.id == key), None)
    if kept is None:
        return redirect("passkeys")
    form = OwnerForm(request.POST if "sure" in request.POST else None, request=request)
    if form.is_bound and form.is_valid():
        passkey.remove(access.user_id, access.name, kept.id, by=access.name)
        # Whoever has the device that was lost may be signed in there.
        end_sessions(access.user_id, but=request.session.session_key or "")
        messages.success(request, _("The passkey is removed; take it off the device as well."))
        return redirect("passkeys")
    return page(request, "people/passkey_remove.html", "account", form=form, kept=kept)


def _added(request: Request, site: Site, form: AddForm) -> bool:
    access, sent = request.access, form.cleaned_data
    try:
        passkey.add(
            site,
            access.user_id,
            access.name,
            state=_state(request),
            answer=sent["answer"],
            called=sent["called"],
            now=timezone.now(),
        )
    except InputError as refusal:
        for problem in refusal.problems:
            form.add_error(None, words_of(problem))
        return False
    return True


def _asked(request: HttpRequest, begun: Begun) -> HttpResponse:
    """The question for the device; what it must answer is kept with the session, and asked once."""
    nobodys_for_a_moment(request)
    request.session[ASKED] = {"state": begun.state, "at": timezone.now().timestamp()}
    return HttpResponse(begun.asked, "application/json")


def _state(request: HttpRequest) -> dict[str, Any] | None:
    kept = request.session.pop(ASKED, None)
    if kept is None or timezone.now().timestamp() - kept["at"] > ASKED_FOR_S:
        return None
    state: dict[str, Any] = kept["state"]
    return state


def _site(request: Request) -> Site:
    host = request.get_host()
    name = host.rsplit(":", 1)[0] if not host.endswith("]") else host
    return Site(
        origin=f"{request.scheme}://{host}",
        host=name,
        clinic=request.clinic.policy.clinic_name,
    )


def _key(request: HttpRequest) -> UUID | None:
    try:
        return UUID(request.POST.get("key", ""))
    except ValueError:
        return None
