"""A user's own account: what they are called, and their passphrase."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import PasswordChangeView
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse_lazy
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from suffice.care.clinic.access import Access
from suffice.care.clinic.accounts import Person, change_person, person_called
from suffice.care.clinic.noted import note
from suffice.care.clinic.people import FULL_NAME_LENGTH
from suffice.care.clinic.roles import Duty, Role
from suffice.care.clinic.sign_in import begin_change, was_right
from suffice.errors import InputError
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.people.owner import note_refused
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


def profession_field() -> forms.CharField:
    """The field for what a person is by training."""
    return forms.CharField(
        label=gettext_lazy("Profession"),
        max_length=FULL_NAME_LENGTH,
        required=False,
        help_text=gettext_lazy("For example midwife; colleagues see it under Users"),
        widget=forms.TextInput({"autocomplete": "off"}),
    )


ROLES: dict[Role, Any] = {
    Role.READER: gettext_lazy("Reader"),
    Role.CONSULTANT: gettext_lazy("Consultant"),
    Role.LEAD: gettext_lazy("Lead"),
}
DUTIES: dict[Duty, Any] = {
    Duty.ADMINISTRATOR: gettext_lazy("Administrator"),
    Duty.AUDITOR: gettext_lazy("Auditor"),
}


def does_what(person: Person, access: Access) -> str:
    """What a person may do, in words: each role, with its team where there are several."""
    in_order = sorted(person.roles.items(), key=lambda one: access.teams.get(one[0], ""))
    roles = [
        f"{ROLES[role]} ({access.teams[team]})" if access.shows_teams else str(ROLES[role])
        for team, role in in_order
        if team in access.teams
    ]
    return ", ".join([*roles, *(str(DUTIES[one]) for one in sorted(person.duties))])


class AccountForm(SpokenForm):
    """What a user is called."""

    full_name = full_name_field()
    profession = profession_field()

    def save(self, request: Request) -> bool:
        """Change it; False with the problem at its field when it cannot be used."""
        access, sent = request.access, self.cleaned_data
        try:
            change_person(access, access.name, **sent)
        except InputError as refusal:
            for problem in refusal.problems:
                place = str(problem.where)
                self.add_error(place if place in self.fields else None, words_of(problem))
            return False
        return True


class PassphraseForm(PasswordChangeForm):
    """The old passphrase and the new one, twice."""

    error_messages = {
        **PasswordChangeForm.error_messages,
        "password_incorrect": gettext_lazy("This is not your current passphrase."),
        "password_mismatch": gettext_lazy("The two new passphrases differ."),
    }

    def clean_old_password(self) -> str:
        """Count the try, look at the passphrase, and forget the count when it was right."""
        try:
            made = begin_change(self.user.get_username(), now=timezone.now())
        except InputError as refusal:
            raise ValidationError([words_of(one) for one in refusal.problems]) from refusal
        old: str = super().clean_old_password()
        was_right(made)
        return old

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["old_password"].label = gettext_lazy("Current passphrase")
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

    def form_invalid(self, form: PasswordChangeForm) -> HttpResponse:
        """Say what is wrong; a wrong current passphrase is noted."""
        if "old_password" in form.errors and form.data.get("old_password"):
            note_refused(self.request, self.request.user.get_username(), "passphrase")
        return super().form_invalid(form)

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        """Change it and say so. Every other session ends: it was opened by the one before."""
        name = self.request.user.get_username()
        note("passphrase.changed", by=name, about=name)
        messages.success(self.request, _("Your passphrase is changed."))
        return super().form_valid(form)


@require_http_methods(["GET", "POST"])
def account(request: Request) -> HttpResponse:
    """Show what the user is called; change it."""
    name = request.user.get_username()
    own = person_called(name).account
    form = AccountForm(
        request.POST or None, initial={"full_name": own.called, "profession": own.profession}
    )
    if request.method == "POST" and form.is_valid() and form.save(request):
        messages.success(request, _("Saved."))
        return redirect("account")
    return page(
        request,
        "people/account.html",
        "account",
        form=form,
        does=does_what(person_called(name), request.access),
        has_factor=own.has_factor,
        passkey_count=own.passkey_count,
    )
