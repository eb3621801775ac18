"""One form for each kind of entry; each reads what was written into a fact of the record."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, ClassVar
from uuid import UUID, uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from suffice.clinical import entry as domain
from suffice.errors import Problem
from suffice.web.fields.reading import AskingForm, MomentField
from suffice.web.shown.people import the_parent

Choices = Sequence[tuple[str, Any]]
NOT_ASKED = ("", _("Not asked"))


def radios(choices: Choices, label: Any, *, required: bool = False, **options: Any) -> Any:
    """A row of choices to press; when it may be left open, 'not asked' is one of them."""
    shown = list(choices) if required else [NOT_ASKED, *choices]
    return forms.ChoiceField(
        choices=shown, label=label, required=required, widget=forms.RadioSelect, **options
    )


FIELD_OF = {
    "true_at": "when",
    "infant_id": "infant",
    "weight_g": "weight",
    "birth_weight_g": "birth_weight",
    "gestation_days": "gestation",
    "intrapartum_fluids_ml": "fluids",
    "length_cm": "length",
    "head_cm": "head",
    "before_g": "before",
    "after_g": "after",
    "volume_ml": "volume",
    "left_ml": "left",
    "right_ml": "right",
    "temperature_c": "temperature",
    "next_due_at": "next_due",
}
"""Field of a fact to the field of its form, where the names differ."""


class EntryForm(AskingForm):
    """What every kind of entry asks: whose it is, when it was true, how it is known.

    `kind` is the name of the fact; `with_device` says whether a scale or device is asked for, and
    `usual_basis` how the fact is usually known.
    """

    kind: ClassVar[str] = ""
    title: ClassVar[Any] = ""
    with_device: ClassVar[Any] = ""
    usual_basis: ClassVar[str] = "observed"
    about_infant: ClassVar[bool] = True
    infant_optional: ClassVar[bool] = False

    entry_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        infants: Sequence[tuple[UUID, str]] = (),
        devices: Sequence[str] = (),
        is_correction: bool = False,
        **options: Any,
    ) -> None:
        """A form for one family.

        Args:
            *args: As Django's forms.
            infants: Whose fact it may be, with their names.
            devices: Scales and devices to offer.
            is_correction: True when it is known whose fact it is: the infant given, or the parent.
            **options: As Django's forms, and the policy and the content.
        """
        given = options.pop("initial", None) or {}
        initial = {"entry_id": uuid4(), "basis": self.usual_basis} | given
        super().__init__(*args, initial=initial, **options)
        self.devices = devices
        own = list(self.fields)
        choices = [(str(infant_id), name) for infant_id, name in infants]
        self._only_infant = ""
        if is_correction:
            self._only_infant = choices[0][0] if choices else ""
        elif self.about_infant:
            if self.infant_optional:
                choices.append(("parent", the_parent(self.policy.parent_word)))
            if len(choices) > 1:
                self.fields["infant"] = forms.ChoiceField(
                    choices=choices,
                    label=_("About"),
                    widget=forms.RadioSelect,
                    initial="parent" if self.infant_optional else None,
                )
                own.insert(0, "infant")
            elif choices:
                self._only_infant = choices[0][0]
        self.fields["when"] = MomentField(label=self.when_label())
        self.fields["basis"] = forms.ChoiceField(
            choices=[
                ("measured", _("Measured")),
                ("observed", _("Observed")),
                ("reported", _("Reported to me")),
            ],
            label=_("How is it known?"),
            widget=forms.RadioSelect,
        )
        if self.with_device:
            self.fields["device"] = forms.CharField(
                label=self.with_device,
                required=False,
                max_length=80,
                widget=forms.TextInput(
                    {"list": "devices", "class": "short", "autocomplete": "off"}
                ),
            )
        self.order_fields([*own, "when", "basis", "device"])

    def when_label(self) -> Any:
        """What the time of this kind of entry is called."""
        return _("When")

    @property
    def infant_id(self) -> UUID | None:
        """Whose fact it is; None for the parent."""
        chosen = self.cleaned_data.get("infant") or self._only_infant
        return UUID(chosen) if chosen and chosen != "parent" else None

    def fact(self) -> domain.AnyFact:
        """The fact that was written. The form must be valid."""
        raise NotImplementedError

    def show(self, problem: Problem, field: str) -> None:
        """Show a problem at the form's own name of a fact's field."""
        last = field.rpartition(".")[2]
        super().show(problem, FIELD_OF.get(last, last))

    def entry(self, *, now: datetime, actor: str) -> domain.Entry:
        """The entry that was written. The form must be valid.

        Args:
            now: The instant of entering.
            actor: User who enters it.
        """
        return domain.Entry(
            id=self.cleaned_data["entry_id"],
            fact=self.fact(),
            basis=domain.Basis(self.cleaned_data["basis"]),
            true_at=self.cleaned_data["when"],
            entered_at=now,
            entered_by=actor,
            infant_id=self.infant_id,
            device=self.cleaned_data.get("device") or None,
        )

    def given(self, name: str) -> Any:
        """A field's value, None when it was not asked or left empty."""
        value = self.cleaned_data.get(name)
        return None if value in ("", None) else value

    @classmethod
    def written(cls, fact: Any, say: Any) -> dict[str, Any]:
        """What to put into the fields for a fact that is to be corrected.

        Args:
            fact: The fact that stands.
            say: A function of (kind of reading, value) that writes it in the clinic's units.
        """
        raise NotImplementedError


SIDES: Choices = [("left", _("Left")), ("right", _("Right")), ("both", _("Both"))]
SETTINGS: Choices = [
    ("ward", _("Ward")),
    ("neonatal unit", _("Neonatal unit")),
    ("clinic", _("Clinic")),
    ("home", _("Home")),
    ("phone", _("Phone")),
]
