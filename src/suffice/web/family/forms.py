"""Opening a family: one parent and one or more infants, with what is known of their birth."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, cast
from uuid import UUID, uuid4, uuid5

from django import forms
from django.utils.translation import gettext_lazy as _

from suffice.clinical import entry as domain
from suffice.clinical.entry.contact import SETTING
from suffice.errors import Problem
from suffice.web.entry.made import form_name, heading
from suffice.web.fields.choices import radios
from suffice.web.fields.instant import InstantField
from suffice.web.fields.moment import MomentField
from suffice.web.fields.reading import AskingForm, ReadField
from suffice.web.fields.spoken import goes_together

INFANTS_MOST = 6


SETTING_CHOICES = [(value, heading(name)) for value, name in SETTING.choices]


class FamilyForm(AskingForm):
    """The parent, and where the family is looked after.

    Every id of the family follows from one made with the page, so that sending the form twice
    opens one family.
    """

    family_id = forms.UUIDField(widget=forms.HiddenInput)
    opened = InstantField()
    infants_count = forms.IntegerField(
        widget=forms.HiddenInput, min_value=1, max_value=INFANTS_MOST
    )
    name = forms.CharField(
        label=_("The parent's name on the list"),
        max_length=120,
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    setting = radios(SETTING_CHOICES, _("Where the family is looked after"), required=True)

    team = forms.ChoiceField(label=_("Team"), widget=forms.RadioSelect)

    def __init__(self, *args: Any, teams: Sequence[tuple[str, str]] = (), **options: Any) -> None:
        super().__init__(*args, **options)
        if teams:
            cast("forms.ChoiceField", self.fields["team"]).choices = teams
            self.fields["team"].initial = teams[0][0]
        else:
            del self.fields["team"]
        if not self.is_bound:
            self.fields["name"].widget.attrs["autofocus"] = True
        if self.policy.parent_word == "mother":
            self.fields["name"].label = _("The mother's name on the list")

    @staticmethod
    def fresh(now: datetime) -> dict[str, Any]:
        """What a new page holds."""
        return {
            "family_id": uuid4(),
            "opened": now.isoformat(timespec="microseconds"),
            "infants_count": 1,
            "setting": "clinic",
        }


class InfantForm(AskingForm):
    """One infant; everything may be left open, but without an instant of birth no age is known."""

    name = forms.CharField(
        label=_("Name"),
        max_length=120,
        required=False,
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    born = MomentField(label=_("Born at"), required=False)
    sex = radios([("female", _("Girl")), ("male", _("Boy"))], _("Sex"))
    birth_weight = ReadField(
        "weight",
        label=_("Birth weight"),
        required=False,
        help_text=_("For example 3280, 3.28 kg or 7 lb 4.5 oz"),
    )
    gestation = ReadField(
        "gestation",
        label=_("Gestation"),
        required=False,
        help_text=_("Weeks and days, for example 38+2"),
    )
    mode = radios(
        [
            ("vaginal", _("Vaginal")),
            ("assisted vaginal", _("Assisted vaginal")),
            ("caesarean", _("Caesarean")),
        ],
        _("Mode of delivery"),
    )

    def clean(self) -> dict[str, Any]:
        """Facts of a birth need its instant."""
        cleaned = super().clean()
        about_birth = [cleaned.get(name) for name in ("birth_weight", "gestation", "mode")]
        if not self.errors and cleaned.get("born") in (None, "") and any(about_birth):
            self.add_error(
                "born",
                goes_together(
                    _("Without the time of birth no age is known."),
                    _("Enter when the infant was born."),
                ),
            )
        return cleaned

    def show(self, problem: Problem, field: str) -> None:
        """Show a problem at the form's own name of a fact's field."""
        last = field.rpartition(".")[2]
        place = {"true_at": "born"}.get(last) or form_name(last)
        super().show(problem, place)

    def fact(self, multiple: int) -> domain.Birth | None:
        """The birth facts; None when the instant of birth is not known."""
        sent = self.cleaned_data
        if not sent.get("born"):
            return None
        gestation = sent.get("gestation")
        return domain.Birth(
            zone=self.policy.zone,
            sex=sent.get("sex") or None,
            gestation_days=None if gestation in (None, "") else int(gestation),
            birth_weight_g=sent.get("birth_weight") or None,
            mode=sent.get("mode") or None,
            multiple=multiple,
        )


def record_of_forms(
    head: FamilyForm, infants: Sequence[InfantForm], *, now: datetime, actor: str
) -> domain.Record:
    """The record that the forms describe. All of them must be valid."""
    family_id: UUID = head.cleaned_data["family_id"]
    opened: datetime = head.cleaned_data["opened"]

    def entry(
        name: str,
        fact: domain.AnyFact,
        infant_id: UUID | None = None,
        true_at: datetime | None = None,
    ) -> domain.Entry:
        return domain.Entry(
            id=uuid5(family_id, name),
            fact=fact,
            basis=domain.Basis.REPORTED,
            true_at=true_at or opened,
            entered_at=now,
            entered_by=actor,
            infant_id=infant_id,
        )

    setting = domain.Setting(head.cleaned_data["setting"])
    entries = [
        entry("parent", domain.Identity(name=head.cleaned_data["name"])),
        entry("contact", domain.Contact(setting=setting)),
    ]
    people = []
    for position, form in enumerate(infants, start=1):
        infant_id = uuid5(family_id, f"infant-{position}")
        people.append(domain.Infant(id=infant_id, position=position))
        birth = form.fact(len(infants))
        if birth is not None:
            born: datetime = form.cleaned_data["born"]
            entries.append(entry(f"birth-{position}", birth, infant_id, born))
        if form.cleaned_data.get("name"):
            fact = domain.Identity(name=form.cleaned_data["name"])
            entries.append(entry(f"name-{position}", fact, infant_id))
    return domain.Record(family_id=family_id, infants=tuple(people), entries=tuple(entries))
