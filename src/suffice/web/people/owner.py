"""That somebody who changes how an account signs in is its owner.

Whoever sits down at a screen that somebody left would else have a way in for good, or keep its owner out.
"""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib.auth.models import AbstractBaseUser, AnonymousUser, User
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from suffice.care.clinic.sign_in import begin_change, was_right
from suffice.errors import InputError
from suffice.web.fields.spoken import SpokenForm, words_of


class OwnerForm(SpokenForm):
    """Asks for the present passphrase beside what is changed."""

    passphrase = forms.CharField(
        label=gettext_lazy("Present passphrase"),
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, user: AbstractBaseUser | AnonymousUser, **options: Any) -> None:
        super().__init__(*args, **options)
        self.user = cast("User", user)
        if not self.user.has_usable_password():  # who signs in elsewhere only has none
            del self.fields["passphrase"]

    def clean_passphrase(self) -> str:
        """Count the try, look at the passphrase, and forget the count when it was right."""
        sent: str = self.cleaned_data["passphrase"]
        try:
            made = begin_change(self.user.get_username(), now=timezone.now())
        except InputError as refusal:
            raise forms.ValidationError([words_of(one) for one in refusal.problems]) from refusal
        if not self.user.check_password(sent):
            raise forms.ValidationError(_("This is not your present passphrase."))
        was_right(made)
        return sent
