"""Forms for what is told: illness, contact, note, name."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from suffice.clinical import entry as domain
from suffice.web.entry.forms import SETTINGS, EntryForm, radios
from suffice.web.fields.reading import MomentField


class IllnessForm(EntryForm):
    """An illness named by the family's clinicians, or its end."""

    kind, title, usual_basis = "illness", _("Illness"), "reported"

    what = forms.CharField(
        label=_("What"), max_length=200, help_text=_("As the family's clinicians have named it")
    )
    present = radios(
        [("yes", _("Present")), ("no", _("Over"))],
        _("Is it present?"),
        required=True,
        initial="yes",
    )

    def fact(self) -> domain.Illness:
        """The illness."""
        return domain.Illness(
            what=self.cleaned_data["what"], present=self.cleaned_data["present"] == "yes"
        )

    @classmethod
    def written(cls, fact: domain.Illness, say: Any) -> dict[str, Any]:  # noqa: ARG003
        """The fields for an illness."""
        return {"what": fact.what, "present": "yes" if fact.present else "no"}


class ContactForm(EntryForm):
    """A contact took place."""

    kind, title, about_infant = "contact", _("Contact"), False

    setting = radios(SETTINGS, _("Where"), required=True)
    next_due = MomentField(
        label=_("Next contact due"), required=False, help_text=_("Leave empty when none is planned")
    )
    discharged = forms.BooleanField(label=_("The family is discharged from care"), required=False)

    def fact(self) -> domain.Contact:
        """The contact."""
        return domain.Contact(
            setting=domain.Setting(self.cleaned_data["setting"]),
            next_due_at=self.given("next_due"),
            discharged=self.cleaned_data["discharged"],
        )

    @classmethod
    def written(cls, fact: domain.Contact, say: Any) -> dict[str, Any]:
        """The fields for a contact."""
        return {
            "setting": fact.setting.value,
            "next_due": say("moment", fact.next_due_at),
            "discharged": fact.discharged,
        }


class NoteForm(EntryForm):
    """Free text."""

    kind, title, infant_optional = "note", _("Note"), True

    text = forms.CharField(label=_("Note"), max_length=20_000, widget=forms.Textarea)

    def fact(self) -> domain.Note:
        """The note."""
        return domain.Note(text=self.cleaned_data["text"])

    @classmethod
    def written(cls, fact: domain.Note, say: Any) -> dict[str, Any]:  # noqa: ARG003
        """The fields for a note."""
        return {"text": fact.text}


class IdentityForm(EntryForm):
    """What someone is called on the list."""

    kind, title, usual_basis, infant_optional = "identity", _("Name"), "reported", True

    name = forms.CharField(label=_("Name on the list"), max_length=120)

    def fact(self) -> domain.Identity:
        """The name."""
        return domain.Identity(name=self.cleaned_data["name"])

    @classmethod
    def written(cls, fact: domain.Identity, say: Any) -> dict[str, Any]:  # noqa: ARG003
        """The fields for a name."""
        return {"name": fact.name}
