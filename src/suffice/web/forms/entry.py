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
from suffice.web.forms.reading import AskingForm, MomentField, ReadField

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
    with_device: ClassVar[str] = ""
    usual_basis: ClassVar[str] = "observed"
    about_infant: ClassVar[bool] = True
    infant_optional: ClassVar[bool] = False

    entry_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        infants: Sequence[tuple[UUID, str]] = (),
        devices: Sequence[str] = (),
        about_parent: bool = False,
        **options: Any,
    ) -> None:
        """A form for one family.

        Args:
            *args: As Django's forms.
            infants: Whose fact it may be, with their names.
            devices: Scales and devices to offer.
            about_parent: True when the entry is known to be about the parent.
            **options: As Django's forms, and the policy and the content.
        """
        given = options.pop("initial", None) or {}
        initial = {"entry_id": uuid4(), "basis": self.usual_basis} | given
        super().__init__(*args, initial=initial, **options)
        self.devices = devices
        own = list(self.fields)
        choices = [(str(infant_id), name) for infant_id, name in infants]
        self._only_infant = ""
        if self.about_infant and not about_parent:
            if self.infant_optional:
                choices.append(("parent", _("The parent")))
            if len(choices) > 1:
                self.fields["infant"] = forms.ChoiceField(
                    choices=choices, label=_("About"), widget=forms.RadioSelect
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


class BirthForm(EntryForm):
    """Birth facts; the time is the instant of birth."""

    kind, title, usual_basis = "birth", _("Birth facts"), "reported"

    birth_weight = ReadField(
        "weight",
        label=_("Birth weight"),
        required=False,
        help_text=_("For example 3280, 3.28 kg or 7 lb 4.5 oz"),
    )
    sex = radios([("female", _("Girl")), ("male", _("Boy"))], _("Sex"))
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
    fluids = ReadField(
        "volume",
        label=_("Fluids given to the mother in labour"),
        required=False,
        help_text=_("If known, for example 1500"),
    )
    multiple = forms.IntegerField(
        label=_("How many were born together"),
        required=False,
        min_value=1,
        max_value=8,
        widget=forms.NumberInput({"class": "short"}),
    )

    def when_label(self) -> Any:
        """Birth has an instant of its own."""
        return _("Born at")

    def fact(self) -> domain.Birth:
        """The birth facts."""
        gestation, fluids = self.given("gestation"), self.given("fluids")
        return domain.Birth(
            zone=self.policy.zone,
            sex=self.given("sex"),
            gestation_days=None if gestation is None else int(gestation),
            birth_weight_g=self.given("birth_weight"),
            mode=self.given("mode"),
            intrapartum_fluids_ml=fluids,
            multiple=self.given("multiple"),
        )

    @classmethod
    def written(cls, fact: domain.Birth, say: Any) -> dict[str, Any]:
        """The fields for birth facts."""
        return {
            "birth_weight": say("weight", fact.birth_weight_g),
            "sex": fact.sex or "",
            "gestation": say("gestation", fact.gestation_days),
            "mode": fact.mode or "",
            "fluids": say("volume", fact.intrapartum_fluids_ml),
            "multiple": fact.multiple,
        }


class WeightForm(EntryForm):
    """One weight."""

    kind, title, usual_basis, with_device = "weight", _("Weight"), "measured", _("Scale")

    weight = ReadField(
        "weight", label=_("Weight"), help_text=_("For example 3280, 3.28 kg or 7 lb 4.5 oz")
    )
    clothing = radios(
        [("naked", _("Naked")), ("dry diaper", _("Dry diaper")), ("clothed", _("Clothed"))],
        _("Clothing"),
    )
    feed_state = radios(
        [("before feed", _("Before a feed")), ("after feed", _("After a feed"))], _("Feed")
    )

    def fact(self) -> domain.Weight:
        """The weight."""
        return domain.Weight(
            weight_g=self.cleaned_data["weight"],
            clothing=self.given("clothing"),
            feed_state=self.given("feed_state"),
        )

    @classmethod
    def written(cls, fact: domain.Weight, say: Any) -> dict[str, Any]:
        """The fields for a weight."""
        return {
            "weight": say("weight", fact.weight_g),
            "clothing": fact.clothing or "",
            "feed_state": fact.feed_state or "",
        }


class SizeForm(EntryForm):
    """Length and head circumference."""

    kind, title, usual_basis, with_device = "size", _("Length and head"), "measured", _("Device")

    length = ReadField(
        "length", label=_("Length"), required=False, help_text=_("For example 50.5 or 19.9 in")
    )
    head = ReadField(
        "length", label=_("Head circumference"), required=False, help_text=_("For example 34.5")
    )

    def clean(self) -> dict[str, Any]:
        """One of both is needed."""
        cleaned = super().clean()
        if not self.errors and self.given("length") is None and self.given("head") is None:
            self.add_error("length", _("Enter a length or a head circumference."))
        return cleaned

    def fact(self) -> domain.Size:
        """The size."""
        return domain.Size(length_cm=self.given("length"), head_cm=self.given("head"))

    @classmethod
    def written(cls, fact: domain.Size, say: Any) -> dict[str, Any]:
        """The fields for a size."""
        return {"length": say("length", fact.length_cm), "head": say("length", fact.head_cm)}


SIDES: Choices = [("left", _("Left")), ("right", _("Right")), ("both", _("Both"))]


class TestWeightForm(EntryForm):
    """Weights just before and just after a feed."""

    __test__ = False
    kind, title, usual_basis, with_device = "test weight", _("Test weight"), "measured", _("Scale")

    before = ReadField("weight", label=_("Before the feed"))
    after = ReadField("weight", label=_("After the feed"))
    minutes = ReadField(
        "duration",
        label=_("Time between the weights"),
        required=False,
        help_text=_("Minutes, or 1 h 10"),
    )
    same_clothes = radios(
        [("yes", _("Yes")), ("no", _("No"))], _("Same clothes and diaper on both?")
    )
    side = radios(SIDES, _("Side"))

    def when_label(self) -> Any:
        """The time of the second weight."""
        return _("When (after the feed)")

    def fact(self) -> domain.TestWeight:
        """The test weight."""
        same = self.given("same_clothes")
        return domain.TestWeight(
            before_g=self.cleaned_data["before"],
            after_g=self.cleaned_data["after"],
            minutes=self.given("minutes"),
            same_clothes=None if same is None else same == "yes",
            side=self.given("side"),
        )

    @classmethod
    def written(cls, fact: domain.TestWeight, say: Any) -> dict[str, Any]:
        """The fields for a test weight."""
        same = {True: "yes", False: "no", None: ""}[fact.same_clothes]
        return {
            "before": say("weight", fact.before_g),
            "after": say("weight", fact.after_g),
            "minutes": say("duration", fact.minutes),
            "same_clothes": same,
            "side": fact.side or "",
        }


class FeedForm(EntryForm):
    """One feed, or one part of it."""

    kind, title = "feed", _("Feed")

    milk = radios(
        [
            ("breast", _("At the breast")),
            ("expressed", _("Expressed milk")),
            ("donor", _("Donor milk")),
            ("formula", _("Formula")),
        ],
        _("What"),
        required=True,
    )
    volume = ReadField(
        "volume",
        label=_("Volume"),
        required=False,
        help_text=_("For example 45 or 1.5 oz; leave empty when not known"),
    )
    side = radios(SIDES, _("Side"))
    minutes = ReadField("duration", label=_("How long"), required=False, help_text=_("Minutes"))

    def fact(self) -> domain.Feed:
        """The feed."""
        return domain.Feed(
            milk=self.cleaned_data["milk"],
            side=self.given("side"),
            volume_ml=self.given("volume"),
            minutes=self.given("minutes"),
        )

    @classmethod
    def written(cls, fact: domain.Feed, say: Any) -> dict[str, Any]:
        """The fields for a feed."""
        return {
            "milk": fact.milk,
            "volume": say("volume", fact.volume_ml),
            "side": fact.side or "",
            "minutes": say("duration", fact.minutes),
        }


class ExpressionForm(EntryForm):
    """One expression session."""

    kind, title, usual_basis, about_infant = (
        "expression",
        _("Expression session"),
        "reported",
        False,
    )

    left = ReadField(
        "volume",
        label=_("Left"),
        required=False,
        help_text=_("Write 0 when nothing came; leave empty when not expressed"),
    )
    right = ReadField("volume", label=_("Right"), required=False)
    minutes = ReadField("duration", label=_("How long"), required=False, help_text=_("Minutes"))
    method = radios(
        [("hand", _("By hand")), ("pump", _("Pump")), ("hand and pump", _("Hand and pump"))],
        _("How"),
    )
    hours_since_last = forms.FloatField(
        label=_("Hours since the last milk removal"),
        required=False,
        min_value=0,
        max_value=72,
        localize=True,
        widget=forms.TextInput({"class": "short", "inputmode": "decimal"}),
    )

    def clean(self) -> dict[str, Any]:
        """One side is needed."""
        cleaned = super().clean()
        if not self.errors and self.given("left") is None and self.given("right") is None:
            self.add_error("left", _("Enter the volume of at least one side."))
        return cleaned

    def fact(self) -> domain.Expression:
        """The session."""
        return domain.Expression(
            left_ml=self.given("left"),
            right_ml=self.given("right"),
            minutes=self.given("minutes"),
            method=self.given("method"),
            hours_since_last=self.given("hours_since_last"),
        )

    @classmethod
    def written(cls, fact: domain.Expression, say: Any) -> dict[str, Any]:
        """The fields for a session."""
        return {
            "left": say("volume", fact.left_ml),
            "right": say("volume", fact.right_ml),
            "minutes": say("duration", fact.minutes),
            "method": fact.method or "",
            "hours_since_last": fact.hours_since_last,
        }


class CountedForm(EntryForm):
    """Something that is counted: one now, or so many over so many hours."""

    usual_basis = "reported"

    count = forms.IntegerField(
        label=_("How many"),
        initial=1,
        min_value=0,
        max_value=40,
        widget=forms.NumberInput({"class": "short", "inputmode": "numeric"}),
        help_text=_("1 for one diaper now; 0 when none was seen in the hours below"),
    )
    over_h = forms.FloatField(
        label=_("In the last … hours"),
        required=False,
        min_value=0.5,
        max_value=168,
        localize=True,
        widget=forms.TextInput({"class": "short", "inputmode": "decimal"}),
        help_text=_("Leave empty for one diaper now; 24 for a day's count"),
    )

    def clean(self) -> dict[str, Any]:
        """A count other than one belongs to a span of hours."""
        cleaned = super().clean()
        if not self.errors and cleaned.get("count") != 1 and cleaned.get("over_h") is None:
            self.add_error("over_h", _("Over how many hours were they counted?"))
        return cleaned


class WetForm(CountedForm):
    """Wet diapers."""

    kind, title = "wet", _("Wet diapers")

    def fact(self) -> domain.Wet:
        """The wets."""
        return domain.Wet(count=self.cleaned_data["count"], over_h=self.given("over_h"))

    @classmethod
    def written(cls, fact: domain.Wet, say: Any) -> dict[str, Any]:  # noqa: ARG003
        """The fields for wets."""
        return {"count": fact.count, "over_h": fact.over_h}


class StoolForm(CountedForm):
    """Stools."""

    kind, title = "stool", _("Stools")

    colour = radios(
        [
            ("black", _("Black")),
            ("green", _("Green")),
            ("brown", _("Brown")),
            ("yellow", _("Yellow")),
            ("pale", _("Pale")),
            ("red", _("Red")),
        ],
        _("Colour"),
    )
    amount = radios(
        [("smear", _("Smear")), ("small", _("Small")), ("large", _("Large"))], _("Amount")
    )

    def fact(self) -> domain.Stool:
        """The stools."""
        return domain.Stool(
            count=self.cleaned_data["count"],
            over_h=self.given("over_h"),
            colour=self.given("colour"),
            amount=self.given("amount"),
        )

    @classmethod
    def written(cls, fact: domain.Stool, say: Any) -> dict[str, Any]:  # noqa: ARG003
        """The fields for stools."""
        return {
            "count": fact.count,
            "over_h": fact.over_h,
            "colour": fact.colour or "",
            "amount": fact.amount or "",
        }


class TemperatureForm(EntryForm):
    """A body temperature."""

    kind, title, usual_basis, with_device = "temperature", _("Temperature"), "measured", _("Device")

    temperature = ReadField(
        "temperature", label=_("Temperature"), help_text=_("For example 36.8 or 98.2F")
    )
    site = radios(
        [
            ("axilla", _("Axilla")),
            ("rectum", _("Rectum")),
            ("ear", _("Ear")),
            ("forehead", _("Forehead")),
        ],
        _("Where"),
    )

    def fact(self) -> domain.Temperature:
        """The temperature."""
        return domain.Temperature(
            temperature_c=self.cleaned_data["temperature"], site=self.given("site")
        )

    @classmethod
    def written(cls, fact: domain.Temperature, say: Any) -> dict[str, Any]:
        """The fields for a temperature."""
        return {"temperature": say("temperature", fact.temperature_c), "site": fact.site or ""}


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


SETTINGS: Choices = [
    ("ward", _("Ward")),
    ("neonatal unit", _("Neonatal unit")),
    ("clinic", _("Clinic")),
    ("home", _("Home")),
    ("phone", _("Phone")),
]


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


FORMS: dict[str, type[EntryForm]] = {
    form.kind.replace(" ", "-"): form
    for form in (
        WeightForm,
        FeedForm,
        TestWeightForm,
        WetForm,
        StoolForm,
        ExpressionForm,
        TemperatureForm,
        ContactForm,
        NoteForm,
        SizeForm,
        IllnessForm,
        BirthForm,
        IdentityForm,
    )
}
