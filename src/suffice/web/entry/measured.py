"""Forms for what is measured: birth, weight, size, test weight, temperature."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from suffice.clinical import entry as domain
from suffice.web.entry.forms import SIDES, EntryForm, radios
from suffice.web.fields.reading import ReadField
from suffice.web.fields.spoken import goes_together


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
        label=_("Fluids given in labour"),
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
            self.add_error(
                "length",
                goes_together(
                    _("Neither length nor head circumference is written."), _("Enter one of them.")
                ),
            )
        return cleaned

    def fact(self) -> domain.Size:
        """The size."""
        return domain.Size(length_cm=self.given("length"), head_cm=self.given("head"))

    @classmethod
    def written(cls, fact: domain.Size, say: Any) -> dict[str, Any]:
        """The fields for a size."""
        return {"length": say("length", fact.length_cm), "head": say("length", fact.head_cm)}


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
