"""Signing in and out, the first user, and who may sign in."""

from __future__ import annotations

import math
import secrets
from http import HTTPStatus
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.models import User
from django.contrib.auth.views import LoginView
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods

from suffice.care.clinic.people import add_user, has_users
from suffice.care.clinic.sign_in import begin_try, was_right
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.people.account import full_name_field
from suffice.web.shown.page import page


class SignInForm(AuthenticationForm):
    """Name and password; whoever was wrong too often waits before they are looked at."""

    wait_s: float = 0.0
    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": gettext_lazy(
            "This name and this passphrase do not go together. Small and capital letters count."
        ),
    }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["username"].label = gettext_lazy("Name")
        self.fields["password"].label = gettext_lazy("Passphrase")

    def clean(self) -> dict[str, Any]:
        """Count the try, look at the passphrase, and forget the count when it was right."""
        name = self.cleaned_data.get("username")
        if not name or not self.cleaned_data.get("password") or self.request is None:
            return super().clean()
        address = str(self.request.META.get("REMOTE_ADDR", ""))
        made = begin_try(name, address, known_browser(self.request, name), now=timezone.now())
        if made.wait_s > 0:
            self.wait_s = made.wait_s
            raise ValidationError(words_of(_must_wait(made.wait_s)), code="wait")
        cleaned = super().clean()
        was_right(made)
        return cleaned


def _must_wait(wait_s: float) -> Problem:
    seconds = math.ceil(wait_s)
    wait = ngettext(
        "Wait %(n)s second, then try again.", "Wait %(n)s seconds, then try again.", seconds
    )
    return Problem(
        code="USER-005",
        what=message("Too many wrong passphrases came for this name or from this network."),
        why=message("The next one is looked at a little later, so that nobody can try thousands."),
        fix=wait % {"n": seconds},
    )


KNOWN_COOKIE = "known"
KNOWN_S = 180 * 24 * 60 * 60
KNOWN_MOST = 20
"""A ward's computer has many users; it knows the latest of them."""


def _known(request: HttpRequest) -> tuple[str, list[str]]:
    """What names this browser, and the accounts that have signed in with it; the latest first."""
    cookie = request.get_signed_cookie(KNOWN_COOKIE, "", salt=KNOWN_COOKIE, max_age=KNOWN_S) or ""
    token, *accounts = cookie.split(" ")
    return token, accounts


def known_browser(request: HttpRequest, name: str) -> str:
    """What names a browser in which this account has signed in before; empty for any other."""
    token, accounts = _known(request)
    return token if name in accounts else ""


def remember_browser(request: HttpRequest, response: HttpResponse, name: str) -> None:
    """Let this browser be known as one in which the account has signed in."""
    token, accounts = _known(request)
    if " " in name:
        return
    latest = [name, *(one for one in accounts if one != name)][:KNOWN_MOST]
    response.set_signed_cookie(
        KNOWN_COOKIE,
        " ".join([token or secrets.token_urlsafe(16), *latest]),
        salt=KNOWN_COOKIE,
        max_age=KNOWN_S,
        path=reverse("sign-in"),
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Strict",
    )


class UserForm(SpokenForm):
    """A new named user."""

    name = forms.CharField(
        label=gettext_lazy("Name to sign in with"),
        max_length=30,
        help_text=gettext_lazy("Small letters; it is shown next to everything this user enters"),
        widget=forms.TextInput({"autocomplete": "off", "autocapitalize": "none"}),
    )
    full_name = full_name_field()
    passphrase = forms.CharField(
        label=gettext_lazy("Passphrase"),
        max_length=200,
        strip=False,
        help_text=gettext_lazy(
            "At least ten characters: four or five words that nobody would guess"
        ),
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=gettext_lazy("The same passphrase again"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )
    is_admin = forms.BooleanField(
        label=gettext_lazy("May change the policy and add users"), required=False
    )

    def clean(self) -> dict[str, Any]:
        """Both passphrases must be the same."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and cleaned["passphrase"] != cleaned["again"]:
            differ = Problem(
                code="USER-004",
                what=message("The two passphrases differ."),
                why=message("A slip in one that cannot be seen would lock its user out."),
                fix=message("Type both again."),
            )
            self.add_error("again", words_of(differ))
        return cleaned

    def add(self, *, is_admin: bool | None = None) -> bool:
        """Add the user; False with the problems at their fields when that cannot be done."""
        sent = self.cleaned_data
        admin = sent["is_admin"] if is_admin is None else is_admin
        try:
            add_user(sent["name"], sent["passphrase"], full_name=sent["full_name"], is_admin=admin)
        except InputError as refusal:
            for problem in refusal.problems:
                self.add_error(str(problem.where) or None, words_of(problem))
            return False
        return True


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    """The sign-in page; before there is any user it leads to the first one."""

    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get(self, request: HttpRequest, *args: Any, **options: Any) -> HttpResponse:
        """Show the form."""
        if not has_users():
            return redirect("first-user")
        return super().get(request, *args, **options)

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Sign in, and know this browser again."""
        response = super().form_valid(form)
        remember_browser(self.request, response, form.cleaned_data["username"])
        return response

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        """Say what is wrong; to who must wait also in the way that programs read."""
        response = super().form_invalid(form)
        if isinstance(form, SignInForm) and form.wait_s > 0:
            response.status_code = HTTPStatus.TOO_MANY_REQUESTS
            response["Retry-After"] = str(math.ceil(form.wait_s))
        return response


@login_not_required
@require_http_methods(["GET", "POST"])
def first_user(request: HttpRequest) -> HttpResponse:
    """Name the first user; only while there is none."""
    if has_users():
        return redirect("sign-in")
    form = UserForm(request.POST or None)
    del form.fields["is_admin"]
    if request.method == "POST" and form.is_valid() and form.add(is_admin=True):
        login(request, User.objects.get(username=form.cleaned_data["name"]))
        return redirect("first-run")
    return page(request, "people/first_user.html", form=form)


@require_http_methods(["GET", "POST"])
def people(request: HttpRequest) -> HttpResponse:
    """Who may sign in; one of those who may add another."""
    may_add = request.user.is_staff
    if request.method == "POST" and not may_add:
        raise PermissionDenied
    form = UserForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and form.add():
        messages.success(
            request, _("%(name)s can sign in now.") % {"name": form.cleaned_data["name"]}
        )
        return redirect("people")
    users = User.objects.order_by("username")
    return page(request, "people/people.html", "people", form=form, users=users, may_add=may_add)
