"""Signing in and out, and the first user."""

from __future__ import annotations

import math
from http import HTTPStatus
from typing import Any

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.models import User
from django.contrib.auth.views import LoginView
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from suffice.care.clinic.noted import note
from suffice.care.clinic.people import add_first_user, has_users
from suffice.care.clinic.sign_in import begin_try, must_wait, was_right
from suffice.errors import InputError
from suffice.record.accounts import has_factor
from suffice.web.fields.spoken import words_of
from suffice.web.people.account import full_name_field
from suffice.web.people.code import ask_for_code
from suffice.web.people.idle import open_session
from suffice.web.people.known import known_browser, remember_browser
from suffice.web.people.outside import is_set_up
from suffice.web.people.passphrase import TwiceForm, sign_in_name_field
from suffice.web.shown.page import Request, page


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
            raise ValidationError(words_of(must_wait(made.wait_s)), code="wait")
        cleaned = super().clean()
        was_right(made)
        return cleaned


class FirstUserForm(TwiceForm):
    """The first user, who chooses a passphrase at once."""

    name = sign_in_name_field()
    full_name = full_name_field()
    field_order = ("name", "full_name", "passphrase", "again")

    def add(self) -> bool:
        """Add the user; False when that cannot be done: with the problems at their fields, or another came first."""
        sent, now = self.cleaned_data, timezone.now()
        try:
            return add_first_user(
                sent["name"], sent["passphrase"], now=now, full_name=sent["full_name"]
            )
        except InputError as refusal:
            for problem in refusal.problems:
                self.add_error(str(problem.where) or None, words_of(problem))
        return False


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    """The sign-in page; before there is any user it leads to the first one."""

    request: Request
    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get(self, request: HttpRequest, *args: Any, **options: Any) -> HttpResponse:
        """Show the form."""
        if not has_users():
            return redirect("first-user")
        return super().get(request, *args, **options)

    def get_context_data(self, **context: Any) -> dict[str, Any]:
        """Whose session is locked, if one is."""
        return super().get_context_data(
            locked=self.request.locked_user,
            outside=(settings.SUFFICE_OIDC_NAME or _("your organisation")) if is_set_up() else "",
            **context,
        )

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Sign in, or open a locked session, or ask for the code; and know this browser again."""
        request, user = self.request, form.get_user()
        name = form.cleaned_data["username"]
        if request.locked_user is not None and request.locked_user.pk == user.pk:
            response = _opened(request, user, self.get_success_url())
        elif has_factor(user.pk):
            return ask_for_code(request, user, self.get_success_url())
        else:
            response = super().form_valid(form)
            open_session(request)
        remember_browser(request, response, name)
        return response

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        """Say what is wrong; to who must wait also in the way that programs read."""
        response = super().form_invalid(form)
        if isinstance(form, SignInForm) and form.wait_s > 0:
            response.status_code = HTTPStatus.TOO_MANY_REQUESTS
            response["Retry-After"] = str(math.ceil(form.wait_s))
        return response


def _opened(request: Request, user: User, going_to: str) -> HttpResponse:
    """A locked session goes on; a script that asked in place of the page gets the new form token."""
    login(request, user)
    open_session(request)
    note("unlocked", by=user.get_username(), about=user.get_username())
    if "X-Unlock" in request.headers:
        return HttpResponse(get_token(request), "text/plain")
    return redirect(going_to)


@login_not_required
@require_http_methods(["GET", "POST"])
def first_user(request: HttpRequest) -> HttpResponse:
    """Name the first user; only while there is none."""
    if has_users():
        return redirect("sign-in")
    form = FirstUserForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and form.add():
        login(request, User.objects.get(username=form.cleaned_data["name"]))
        return redirect("first-run")
    if has_users():  # by now
        return redirect("sign-in")
    return page(request, "people/first_user.html", form=form)
