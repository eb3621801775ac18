"""The clinic's policy as a form."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any
from uuid import uuid4
from zoneinfo import available_timezones

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext_lazy as _

from suffice.errors import Problem
from suffice.knowledge.policy import (
    IDLE_LEAST_MIN,
    IDLE_MOST_MIN,
    PHONE_LENGTH,
    RETENTION_MOST_YEARS,
    Policy,
)
from suffice.knowledge.store import WITHOUT_UNIT, Content
from suffice.message import Number, Words, message
from suffice.web.fields.choices import date_orders, radios
from suffice.web.fields.doubt import Answer as DoubtAnswer
from suffice.web.fields.doubt import Doubt, token
from suffice.web.fields.reading import AskingForm
from suffice.web.fields.spoken import SpokenForm, goes_together, no_number, words_of
from suffice.web.library.page import choices_of, replaceable, value_name
from suffice.web.policy.scales import PREFIX as SCALE_PREFIX
from suffice.web.policy.scales import read_scales, scale_fields
from suffice.web.policy.site import site_words
from suffice.web.shown.wording import Wording, in_sentences, of_content

VALUE_PREFIX = "value:"
CHOICE_PREFIX = "choice:"


class NamesInEnglish(forms.Select):
    """A list of values of the content store: their names are its authors' own words."""

    def create_option(self, name: str, value: Any, *given: Any, **options: Any) -> dict[str, Any]:
        """An option that says in which language it is."""
        option: dict[str, Any] = super().create_option(name, value, *given, **options)
        if value:
            option["attrs"]["lang"] = "en"
        return option


def phone_field(label: Any) -> forms.CharField:
    """A number that papers print; they say that it is missing where it is."""
    return forms.CharField(
        label=label,
        required=False,
        max_length=PHONE_LENGTH,
        help_text=_("Printed on papers; left empty, they ask the clinic to fill it in"),
        widget=forms.TextInput({"inputmode": "tel", "autocomplete": "off"}),
    )


class PolicyForm(AskingForm):
    """Settings of the clinic; its own values and choices are fields that follow the content."""

    left_empty = SpokenForm.left_empty

    version_id = forms.UUIDField(widget=forms.HiddenInput)
    clinic_name = forms.CharField(label=_("Name of the clinic"), max_length=80)
    phone_day = phone_field(_("Phone of the clinic by day"))
    phone_night = phone_field(_("Phone at night"))
    emergency_number = phone_field(_("Number of the emergency service"))
    crisis_number = phone_field(_("Number of the crisis line for mental health"))
    paper_size = radios(
        [("A4", "A4"), ("letter", "US Letter")], _("Papers are printed on"), required=True
    )
    zone = forms.CharField(
        label=_("Time zone"),
        max_length=64,
        help_text=_("An IANA name such as Europe/Madrid or America/Chicago"),
        widget=forms.TextInput({"list": "zones", "autocomplete": "off", "spellcheck": "false"}),
    )
    weight_unit = radios(
        [("g", _("grams")), ("kg", _("kilograms")), ("lb oz", _("pounds and ounces"))],
        _("Weights are shown in"),
        required=True,
    )
    volume_unit = radios(
        [("mL", _("millilitres")), ("fl oz", _("US fluid ounces"))],
        _("Volumes are shown in"),
        required=True,
    )
    temperature_unit = radios(
        [("C", "°C"), ("F", "°F")], _("Temperatures are shown in"), required=True
    )
    language = radios([("en", "English"), ("es", "Español")], _("Language"), required=True)
    date_order = radios(date_orders(), _("Dates are shown with"), required=True)
    parent_word = radios(
        [("mother", _("The mother")), ("parent", _("The parent"))],
        _("Word for the parent"),
        required=True,
    )
    engine_ranking = forms.BooleanField(
        label=_("Let the engine's probabilities rank the caseload too"),
        required=False,
        help_text=_(
            "Red values of the plain rules come first either way. Without it the plain rule names the"
            " date to weigh again."
        ),
    )

    site_off = forms.BooleanField(
        label=_("Leave the clinic's own infants out of forecasts"),
        required=False,
        help_text=_(
            "Without them a forecast rests on published growth alone. Nothing is learned either while"
            " they are left out."
        ),
    )

    idle_min = forms.IntegerField(
        label=_("Lock a screen after so many minutes without use"),
        min_value=IDLE_LEAST_MIN,
        max_value=IDLE_MOST_MIN,
        help_text=_("The passphrase opens it again, with everything that was typed"),
        widget=forms.TextInput({"inputmode": "numeric", "class": "short"}),
    )
    second_factor = forms.BooleanField(
        label=_("Everybody signs in with a passkey, or with a one-time code too"),
        required=False,
        help_text=_("Who has none is led to setting it up at the next page"),
    )

    retention_years = forms.IntegerField(
        label=_("A family may be erased so many years after its last entry"),
        required=False,
        min_value=0,
        max_value=RETENTION_MOST_YEARS,
        help_text=_(
            "Local law decides how long a record must be kept; for children often until they have been"
            " of age for some years. Left empty, no family can be erased."
        ),
        widget=forms.TextInput({"inputmode": "numeric", "class": "short"}),
    )

    def __init__(self, *args: Any, policy: Policy, content: Content, **options: Any) -> None:
        initial = {name: getattr(policy, name) for name in self.base_fields if name != "version_id"}
        initial["version_id"] = uuid4()
        super().__init__(*args, policy=policy, content=content, initial=initial, **options)
        for name, dispute in content.disagreements.items():
            if not dispute.decides:
                continue
            answers = choices_of(dispute, content, Wording(policy=policy))
            self.fields[CHOICE_PREFIX + name] = forms.ChoiceField(
                label=of_content(dispute.question),
                help_text=of_content(dispute.changes),
                choices=[*zip(dispute.candidates, answers, strict=True)],
                initial=policy.choices.get(name, dispute.chosen),
                widget=forms.RadioSelect,
            )
        self.passed_over = policy.passed_over(content)
        for key, value in policy.constants.items():
            if key in content.flat:
                self.fields[VALUE_PREFIX + key] = _value_field(
                    ": ".join(value_name(key, content)),
                    f"{value:g}",
                    _not_in_force(key, value, content) if key in self.passed_over else "",
                )
        self.fields["new_key"] = forms.ChoiceField(
            label=_("Replace another value"),
            required=False,
            choices=[("", _("none")), *replaceable(content)],
            help_text=_("The Library shows each with its source and its range"),
            widget=NamesInEnglish,
        )
        self.fields["new_value"] = forms.CharField(
            label=_("Your clinic's value"),
            required=False,
            max_length=30,
            widget=forms.TextInput({"inputmode": "decimal", "class": "short"}),
        )
        self.fields.update(scale_fields(policy.scales))
        self.zones = sorted(available_timezones()) if not self.is_bound else []

    def groups(self) -> Iterator[tuple[Any, Any, list[BoundField]]]:
        """The fields by what they are about: a title, a word about it, the fields."""
        sections: dict[Any, tuple[Any, list[BoundField]]] = {
            _("Reading and writing"): ("", []),
            _("Caseload"): ("", []),
            _("Your own infants"): (site_words(self.policy, self.content), []),
            _("Signing in"): ("", []),
            _("Keeping and erasing"): ("", []),
            _("Where sources disagree"): (
                _("Your answer is in force here; the Library shows all of them."),
                [],
            ),
            _("Your own values"): (_no_longer_known(self.passed_over, self.content), []),
            _("Your scales"): (
                _(
                    "A known error is taken off by the engine; the step of a scale and how far"
                    " repeated weights differ widen the interval of a gain."
                ),
                [],
            ),
        }
        lists = [fields for _word, fields in sections.values()]
        for field in self.visible_fields():
            lists[self._section_of(field.name)].append(field)
        for title, (word, fields) in sections.items():
            yield title, word, fields

    def _section_of(self, name: str) -> int:
        starts = (
            ("engine_ranking", 1),
            ("site_off", 2),
            (("idle_min", "second_factor"), 3),
            ("retention_years", 4),
            (CHOICE_PREFIX, 5),
            ((VALUE_PREFIX, "new_"), 6),
            (SCALE_PREFIX, 7),
        )
        return next((place for start, place in starts if name.startswith(start)), 0)

    def clean(self) -> dict[str, Any]:
        """Values must be numbers; a key without a value, or the other way round, is a slip."""
        cleaned = super().clean()
        self.constants: dict[str, float] = {}
        for name in [*self.fields]:
            if name.startswith(VALUE_PREFIX) and cleaned.get(name):
                self._read_value(name, name.removeprefix(VALUE_PREFIX), cleaned[name])
        self.scales, wrong = read_scales(cleaned, len(self.policy.scales) + 1)
        for place, text in wrong:
            self.add_error(place, no_number(text))
        key, value = cleaned.get("new_key"), cleaned.get("new_value")
        if key and value:
            self._read_value("new_value", key, value)
        elif key or value:
            self.add_error(
                "new_value" if key else "new_key",
                goes_together(
                    _("Which value is replaced, and by what, go together."), _("Enter both.")
                ),
            )
        return cleaned

    def show(self, problem: Problem, field: str) -> None:
        """A problem with a value stands at that value's field."""
        key = field.removeprefix("constants.")
        place = VALUE_PREFIX + key if VALUE_PREFIX + key in self.fields else field
        if place not in self.fields and key == self.cleaned_data.get("new_key"):
            place = "new_key"
        if problem.doubtful:
            super().show(problem, place)
        else:
            self.add_error(place if place in self.fields else None, words_of(problem))

    def ask_whether(self, question: Words) -> None:
        """Ask whether the policy is to be saved, knowing what it would change."""
        text = in_sentences([question])
        answer = DoubtAnswer(token=token("policy", text), words=str(_("Yes, save it")))
        if answer.token not in self.confirmed:
            doubt = Doubt(field="form", place="form", question=text, answers=(answer,))
            self.doubts[doubt.field] = doubt
            self.add_error(None, _("Look at what it changes on your caseload, then save it."))

    def settings(self) -> dict[str, Any]:
        """The whole policy as plain settings. The form must be valid."""
        plain = {name: self.cleaned_data[name] for name in self.base_fields if name != "version_id"}
        choices = {
            name.removeprefix(CHOICE_PREFIX): self.cleaned_data[name]
            for name in self.fields
            if name.startswith(CHOICE_PREFIX)
        }
        chosen = {name: key for name, key in choices.items() if key != self._shipped_choice(name)}
        return {
            **plain,
            "constants": self.constants,
            "choices": chosen,
            "scales": self.scales,
        }

    def _shipped_choice(self, name: str) -> str:
        from suffice.knowledge.store import load  # noqa: PLC0415  # the content as it ships

        return load().chosen(name)

    def _read_value(self, place: str, key: str, text: str) -> None:
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            value = math.nan
        if math.isfinite(value):
            self.constants[key] = value
        else:
            self.add_error(place, no_number(text))


def _not_in_force(key: str, value: float, content: Content) -> str:
    """The words for a value that was kept before its limits were."""
    least, most = content.limits(key)
    params: dict[str, Any] = {
        "value": Number(value), "least": Number(least), "most": Number(most),
    }  # fmt: skip
    unit = content.flat[key].unit
    if unit == WITHOUT_UNIT:
        sentence = message(
            "{value} is not in force, ours is: the program cannot work with it."
            " Enter {least} to {most}, or leave it empty.",
            **params,
        )
    else:
        sentence = message(
            "{value} {unit} is not in force, ours is: the program cannot work with it."
            " Enter {least} to {most} {unit}, or leave it empty.",
            unit=unit,
            **params,
        )
    return in_sentences([sentence])


def _no_longer_known(passed_over: Mapping[str, float], content: Content) -> str:
    """The words for values that only an earlier version of the program had; empty without any."""
    gone = [key for key in passed_over if key not in content.flat]
    if not gone:
        return ""
    sentence = message(
        "{count} value of yours is no longer known to the program, and goes when you save.",
        plural="{count} values of yours are no longer known to the program, and go when you save.",
        count=len(gone),
    )
    return in_sentences([sentence])


def _value_field(name: str, value: str, not_in_force: str) -> forms.CharField:
    return forms.CharField(
        label=name,
        required=False,
        initial=value,
        max_length=30,
        help_text=not_in_force or _("Your clinic's value; leave it empty to go back to ours"),
        widget=forms.TextInput({"inputmode": "decimal", "class": "short"}),
    )
