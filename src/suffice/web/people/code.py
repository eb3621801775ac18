"""The second step of signing in: a one-time code, and setting one up."""

from __future__ import annotations

from typing import Any, Final

import segno
from django import forms
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from suffice.care.clinic import factor
from suffice.errors import InputError
from suffice.record.accounts import end_sessions, has_codes, passkeys_of, recovery_codes_left
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.people.idle import nobodys_for_a_moment, open_session
from suffice.web.people.known import remember_browser
from suffice.web.people.owner import OwnerForm, note_refused
from suffice.web.shown.page import Request, page

WAITING: Final = "waits for a code"
WAITS_S: Final = 300
"""How long the right passphrase waits for its code."""
BACKEND: Final = "django.contrib.auth.backends.ModelBackend"


class CodeForm(SpokenForm):
    """A one-time code, or a recovery code."""

    code = forms.CharField(
        label=gettext_lazy("Code"),
        max_length=30,
        help_text=gettext_lazy("The six digits that your device shows, or a recovery code"),
        widget=forms.TextInput(
            {
                "autocomplete": "one-time-code",
                "autocapitalize": "none",
                "spellcheck": "false",
                "autofocus": True,
            }
        ),
    )


class OwnCodeForm(OwnerForm, CodeForm):
    """A code of a device, and that it is the owner who sets it up, takes it away or asks for new codes."""

    field_order = ("code", "passphrase")


def ask_for_code(request: HttpRequest, user: User, going_to: str) -> HttpResponse:
    """The passphrase was right: on to the code. Nobody is signed in yet."""
    at_s = timezone.now().timestamp()
    nobodys_for_a_moment(request)
    # Of the passphrase that was given: one that is reset or changed meanwhile leads nobody on.
    of = user.get_session_auth_hash()
    request.session[WAITING] = {"user": user.pk, "of": of, "at": at_s, "next": going_to}
    return redirect("sign-in-code")


@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def code(request: HttpRequest) -> HttpResponse:
    """Ask for the code of whoever gave the right passphrase a moment ago."""
    waiting: dict[str, Any] = request.session.get(WAITING, {})
    user = waiting_user(waiting)
    if user is None:
        return redirect("sign-in")
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        name = user.get_username()
        try:
            factor.need_right(user.pk, name, form.cleaned_data["code"], now=timezone.now())
        except InputError as refusal:
            note_refused(request, name, "sign-in-code")
            show(form, refusal)
        else:
            login(request, user, BACKEND)
            request.session.pop(WAITING, None)
            open_session(request)
            response = redirect(next_of(request, waiting))
            remember_browser(request, response, name)
            return response
    return page(
        request,
        "people/code.html",
        form=form,
        next=next_of(request, waiting),
        has_codes=has_codes(user.pk),
        has_passkey=bool(passkeys_of(user.pk)),
    )


def waiting_user(waiting: dict[str, Any]) -> User | None:
    """Who gave the right passphrase a moment ago; None where nobody did."""
    if not waiting or timezone.now().timestamp() - waiting["at"] > WAITS_S:
        return None
    user = User.objects.filter(pk=waiting["user"], is_active=True).first()
    if user is None or not constant_time_compare(
        waiting.get("of", ""), user.get_session_auth_hash()
    ):
        return None
    return user


def next_of(request: HttpRequest, waiting: dict[str, Any]) -> str:
    """Where somebody wanted to go; only within these pages."""
    address = str(waiting.get("next", "/"))
    is_ours = url_has_allowed_host_and_scheme(address, {request.get_host()})
    return address if is_ours else "/"


def show(form: SpokenForm, refusal: InputError) -> None:
    """Each problem of a code at its field."""
    for problem in refusal.problems:
        form.add_error("code", words_of(problem))


@never_cache
@require_http_methods(["GET", "POST"])
def set_up(request: Request) -> HttpResponse:
    """Set one-time codes up, renew the recovery codes, or take both away."""
    access = request.access
    if not access.has_codes:
        return _begin(request, OwnCodeForm(request.POST or None, request=request))
    form = OwnCodeForm(request.POST or None, request=request)
    if request.method == "POST" and form.is_valid():
        try:
            factor.need_right(
                access.user_id, access.name, form.cleaned_data["code"], now=timezone.now()
            )
        except InputError as refusal:
            note_refused(request, access.name, "factor")
            show(form, refusal)
        else:
            if request.POST.get("do") == "remove":
                factor.remove(access.user_id, access.name, by=access.name)
                end_sessions(access.user_id, but=request.session.session_key or "")
                messages.success(request, _("You sign in without a code again."))
                return redirect("account")
            codes = factor.renew_recovery_codes(access.user_id, access.name)
            return page(request, "people/recovery.html", "account", codes=codes)
    left = recovery_codes_left(access.user_id)
    return page(request, "people/factor.html", "account", form=form, left=left)


def _begin(request: Request, form: OwnCodeForm) -> HttpResponse:
    access, policy = request.access, request.clinic.policy
    if request.method == "POST" and form.is_valid():
        try:
            codes = factor.confirm(
                access.user_id, access.name, form.cleaned_data["code"], now=timezone.now()
            )
        except InputError as refusal:
            show(form, refusal)
        else:
            return page(request, "people/recovery.html", "account", codes=codes)
    secret = factor.begin(access.user_id, anew=request.method != "POST")
    drawn = segno.make(factor.address_of(secret, access.name, policy.clinic_name), micro=False)
    return page(
        request,
        "people/factor_new.html",
        "account",
        form=form,
        secret=" ".join(secret[start : start + 4] for start in range(0, len(secret), 4)),
        # Drawn here from letters and digits, as paths without a style.
        picture=mark_safe(drawn.svg_inline(omitsize=True, svgclass="code", lineclass=None)),  # noqa: S308
        is_asked=policy.second_factor,
    )
