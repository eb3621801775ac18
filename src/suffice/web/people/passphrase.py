"""The fields of a user who begins: the name to sign in with, and a passphrase typed twice."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from suffice.errors import Problem
from suffice.message import message
from suffice.web.fields.spoken import SpokenForm, words_of


def sign_in_name_field() -> forms.CharField:
    """The field of a name to sign in with."""
    return forms.CharField(
        label=gettext_lazy("Name to sign in with"),
        max_length=30,
        help_text=gettext_lazy("Small letters; it is shown next to everything this user enters"),
        widget=forms.TextInput({"autocomplete": "off", "autocapitalize": "none"}),
    )


class TwiceForm(SpokenForm):
    """A new passphrase, typed twice."""

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

    def clean(self) -> dict[str, Any]:
        """Both must be the same."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and cleaned["passphrase"] != cleaned["again"]:
            self.add_error("again", words_of(two_that_differ()))
        return cleaned


def two_that_differ() -> Problem:
    """The problem of a passphrase that was typed twice, and not alike."""
    return Problem(
        code="USER-004",
        what=message("The two passphrases differ."),
        why=message("A slip in one that cannot be seen would lock its user out."),
        fix=message("Type both again."),
    )
