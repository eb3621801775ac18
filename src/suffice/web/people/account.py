"""A user's own account: what they are called, and their passphrase."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import PasswordChangeView
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from suffice.care.clinic.people import FULL_NAME_LENGTH, change_full_name, full_names
from suffice.errors import InputError
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.shown.page import Request, page


def full_name_field() -> forms.CharField:
    """The field for what a person is called."""
    return forms.CharField(
        label=gettext_lazy("Your name"),
        max_length=FULL_NAME_LENGTH,
        required=False,
        help_text=gettext_lazy("As colleagues read it next to entries; you can leave it empty"),
        widget=forms.TextInput({"autocomplete": "name"}),
    )


class AccountForm(SpokenForm):
    """What a user is called."""

    full_name = full_name_field()

    def save(self, name: str) -> bool:
        """Change it; False with the problem at its field when it cannot be used."""
        try:
            change_full_name(name, self.cleaned_data["full_name"])
        except InputError as refusal:
            for problem in refusal.problems:
                self.add_error("full_name", words_of(problem))
            return False
        return True


class PassphraseForm(PasswordChangeForm):
    """The old passphrase and the new one, twice."""

    error_messages = {
        **PasswordChangeForm.error_messages,
        "password_incorrect": gettext_lazy("This is not your present passphrase."),
        "password_mismatch": gettext_lazy("The two new passphrases differ."),
    }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["old_password"].label = gettext_lazy("Present passphrase")
        self.fields["new_password1"].label = gettext_lazy("New passphrase")
        self.fields["new_password1"].help_text = gettext_lazy(
            "At least ten characters: four or five words that nobody would guess"
        )
        self.fields["new_password2"].label = gettext_lazy("The new passphrase again")
        self.fields["new_password2"].help_text = ""


class PassphraseChange(PasswordChangeView):
    """A user's own passphrase."""

    template_name = "people/passphrase.html"
    form_class = PassphraseForm
    success_url = reverse_lazy("caseload")
    extra_context = {"here": "account"}

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        """Change it and say so."""
        messages.success(self.request, _("Your passphrase is changed."))
        return super().form_valid(form)


@require_http_methods(["GET", "POST"])
def account(request: Request) -> HttpResponse:
    """Show what the user is called; change it."""
    name = request.user.get_username()
    form = AccountForm(request.POST or None, initial={"full_name": full_names().get(name, "")})
    if request.method == "POST" and form.is_valid() and form.save(name):
        messages.success(request, _("Saved."))
        return redirect("account")
    return page(request, "people/account.html", "account", form=form)
