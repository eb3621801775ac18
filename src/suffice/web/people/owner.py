"""That somebody who changes how an account signs in is its owner.

Whoever sits down at a screen that somebody left would else have a way in for good, or keep its owner out.
The owner says so with the current passphrase; who has none, because the account signs in elsewhere only, by
having signed in there anew a moment ago, on purpose: the provider says when that was (`auth_time`).
"""

from __future__ import annotations

from typing import Any, Final, cast

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.models import User
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from suffice.care.clinic.sign_in import begin_change, was_right
from suffice.errors import InputError
from suffice.web.fields.spoken import SpokenForm, words_of

PROVEN: Final = "proven elsewhere"
PROVEN_FOR_S: Final = 10 * 60
"""How long after a sign-in elsewhere its owner is taken to sit there: to set a device up takes minutes."""


def note_refused(request: HttpRequest, name: str, where: str) -> None:
    """Note on the trail that what proves an owner was wrong, or came too often.

    Args:
        request: Which brought it.
        name: Whose account it was about.
        where: The name of the page's address.
    """
    details = {"username": name, "page": where}
    user_login_failed.send(__name__, credentials=details, request=request)


def note_proof(request: HttpRequest, user_id: int, signed_in_s: float) -> None:
    """Keep when a person signed in elsewhere, as the provider says, in seconds since 1970."""
    request.session[PROVEN] = {"user": user_id, "at": signed_in_s}


def is_proven(request: HttpRequest) -> bool:
    """Whether whoever asks has signed in elsewhere a moment ago."""
    kept: dict[str, Any] = request.session.get(PROVEN, {})
    if not kept or kept["user"] != request.user.pk:
        return False
    return not is_long_ago(float(kept["at"]))


def is_long_ago(signed_in_s: float | None) -> bool:
    """Whether a sign-in elsewhere proves no more who sits there now; not where nothing says when it was."""
    if signed_in_s is None:
        return False
    return not abs(timezone.now().timestamp() - signed_in_s) <= PROVEN_FOR_S


class OwnerForm(SpokenForm):
    """Asks for the current passphrase beside what is changed.

    Attributes:
        elsewhere: The name of the provider where the owner must sign in once more first; empty where that
            is not asked.
    """

    passphrase = forms.CharField(
        label=gettext_lazy("Current passphrase"),
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, request: HttpRequest, **options: Any) -> None:
        super().__init__(*args, **options)
        self.request = request
        self.user = cast("User", request.user)
        self.needs_proof = False
        self.elsewhere = ""
        if not self.user.has_usable_password():  # who signs in elsewhere only has none
            del self.fields["passphrase"]
            self.needs_proof = not is_proven(request)
            if self.needs_proof and settings.SUFFICE_OIDC["issuer"]:
                self.elsewhere = settings.SUFFICE_OIDC_NAME

    def clean(self) -> dict[str, Any]:
        """Refuse whoever has no passphrase here and has not signed in elsewhere a moment ago."""
        cleaned: dict[str, Any] = super().clean() or {}
        if self.needs_proof and self.elsewhere:
            raise forms.ValidationError(
                _("Sign in with %(name)s once more first, so that it is you who changes this.")
                % {"name": self.elsewhere}
            )
        if self.needs_proof:
            raise forms.ValidationError(
                _(
                    "Your account has no passphrase here. Ask a lead or an administrator to reset it."
                )
            )
        return cleaned

    def clean_passphrase(self) -> str:
        """Count the try, look at the passphrase, and forget the count when it was right."""
        sent: str = self.cleaned_data["passphrase"]
        match = self.request.resolver_match
        where = (match.view_name if match else "") or ""
        try:
            made = begin_change(self.user.get_username(), now=timezone.now())
        except InputError as refusal:
            note_refused(self.request, self.user.get_username(), where)
            raise forms.ValidationError([words_of(one) for one in refusal.problems]) from refusal
        if not self.user.check_password(sent):
            note_refused(self.request, self.user.get_username(), where)
            raise forms.ValidationError(_("This is not your current passphrase."))
        was_right(made)
        return sent


def is_owner(request: HttpRequest) -> bool:
    """Whether what was sent shows that whoever asks is who has signed in; else it is said why not."""
    form = OwnerForm(request.POST, request=request)
    for error in (one for found in form.errors.values() for one in found):
        messages.error(request, str(error))
    return form.is_valid()
