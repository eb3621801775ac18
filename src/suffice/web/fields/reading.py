"""Fields that take a value as people write it, and a base form that asks about doubtful ones."""

from __future__ import annotations

import dataclasses
from datetime import datetime
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from suffice.assess.parameters import parameters_of
from suffice.clinical.reading.candidate import Reading
from suffice.clinical.reading.reading import Habits, read_quantity
from suffice.errors import InputError, Problem
from suffice.exchange.local_time import read_local
from suffice.exchange.moment import Moment, twice
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content
from suffice.message import message
from suffice.web.fields.doubt import JOINED, SUFFIX, Answer, Doubt, confirmation, token
from suffice.web.fields.moment import MomentField
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.shown.wording import in_words

KEYPADS = {
    "weight": "decimal",
    "volume": "decimal",
    "temperature": "decimal",
    "length": "decimal",
    "duration": "numeric",
    "gestation": "tel",  # digits with a plus sign: 38+2
}
"""Quantity to the keypad that a phone shows; letters where a unit has to be typed."""


def keypad(kind: str, policy: Policy) -> str:
    """The keypad for a quantity, in the unit in which the clinic writes it.

    Pounds with ounces need a space and letters; everything else is a number.
    """
    if kind == "weight" and policy.weight_unit not in {"g", "kg"}:
        return "text"
    return KEYPADS.get(kind, "text")


class ReadField(forms.CharField):
    """A value as people write it; which reading it is, the form decides."""

    def __init__(self, kind: str, **options: Any) -> None:
        attributes = {"autocomplete": "off", "class": "short"}
        options.setdefault("widget", forms.TextInput(attributes))
        super().__init__(max_length=60, **options)
        self.kind = kind

    def get_bound_field(self, form: Any, field_name: str) -> BoundField:
        """The field in its form, with the keypad of the clinic's unit."""
        self.widget.attrs["inputmode"] = keypad(self.kind, form.policy)
        return super().get_bound_field(form, field_name)


class AskingForm(SpokenForm):
    """A form whose values are read as people write them; it keeps what it has to ask.

    Attributes:
        policy: The clinic's policy: reader's units and time zone.
        content: The content store, for what is possible at all.
        doubts: Questions that are open, by field.
    """

    error_css_class = "has-error"
    template_name = "fields/fields.html"
    # What is asked are facts, which nobody may know.
    left_empty = gettext_lazy("if known")

    def __init__(self, *args: Any, policy: Policy, content: Content, **options: Any) -> None:
        self.policy = policy
        self.content = content
        self.doubts: dict[str, Doubt] = {}
        super().__init__(*args, **options)

    def clean(self) -> dict[str, Any]:
        """Read every field that was written; a doubt leaves the form invalid until answered."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for name, field in self.fields.items():
            text = cleaned.get(name)
            if not text or not isinstance(text, str):
                continue
            try:
                if isinstance(field, ReadField):
                    cleaned[name] = self._value(name, _read(field.kind, text, self))
                elif isinstance(field, MomentField):
                    read = read_local(text, self.zone_of(name), self.policy.date_order)
                    cleaned[name] = self._instant(name, read)
            except InputError as refusal:
                self.refuse(refusal, name)
        return cleaned

    def zone_of(self, name: str) -> str:  # noqa: ARG002  # a form may hold times of two zones
        """The time zone in which a field's time is meant."""
        return self.policy.zone

    def refuse(self, refusal: InputError, field: str = "") -> None:
        """Show each problem at its field; a doubtful one becomes a question."""
        for problem in refusal.problems:
            self.show(problem, field or str(problem.where))

    def show(self, problem: Problem, field: str) -> None:
        """Show a problem at a field, or above the form when it has no such field."""
        place = field if field in self.fields else None
        if problem.doubtful:
            name, yes = place or "form", _("Yes, record it as written")
            self._ask(confirmation(name, self.add_prefix(name), problem, yes))
            return
        self.add_error(place, words_of(problem))

    def _value(self, name: str, reading: Reading) -> float | None:
        """The value of a reading, or None with the question asked."""
        if reading.is_clear:
            return reading.accept()
        # What may be meant stands in the answers.
        question = " ".join(
            words_of(dataclasses.replace(doubt, fix="")) for doubt in reading.doubts
        )
        answers = tuple(
            Answer(token=token(name, reading.text, one.value), words=in_words(one.read_as))
            for one in reading.candidates
        )
        doubt = Doubt(field=name, place=self.add_prefix(name), question=question, answers=answers)
        for answer, candidate in zip(answers, reading.candidates, strict=True):
            if answer.token in self._sent(doubt.name):
                return candidate.value
        self._open(doubt)
        return None

    def _instant(self, name: str, moment: Moment) -> datetime | None:
        """The instant of a local time, or None with the question which of two it was."""
        if not moment.is_ambiguous:
            return moment.instants[0]
        answers = tuple(
            Answer(token=token(name, instant.isoformat()), words=words)
            for instant, words in zip(moment.instants, moment.clock_times(), strict=True)
        )
        asked = words_of(twice(moment.local, moment.zone, message("Which was it?")))
        doubt = Doubt(field=name, place=self.add_prefix(name), question=asked, answers=answers)
        for answer, instant in zip(answers, moment.instants, strict=True):
            if answer.token in self._sent(doubt.name):
                return instant
        self._open(doubt)
        return None

    def _ask(self, doubt: Doubt) -> None:
        """Ask, unless this very doubt was answered already."""
        if doubt.answers[0].token not in self.confirmed:
            self._open(doubt)

    def _open(self, doubt: Doubt) -> None:
        earlier = self.doubts.get(doubt.field)
        self.doubts[doubt.field] = earlier.joined(doubt) if earlier else doubt
        if earlier is None:
            place = doubt.field if doubt.field in self.fields else None
            self.add_error(place, _("Please confirm: this may be a slip."))

    @property
    def confirmed(self) -> set[str]:
        """The tokens of every doubt that was answered with yes."""
        return {token for _name, given in self.answered for token in given.split(JOINED)}

    @property
    def answered(self) -> list[tuple[str, str]]:
        """Every answer given so far, by name: the page sends it along, so it is asked for once."""
        names = [self.add_prefix(name) + SUFFIX for name in [*self.fields, "form"]]
        return [(name, given) for name in names for given in self._sent(name)]

    def _sent(self, key: str) -> list[str]:
        if key not in self.data:
            return []
        getlist = getattr(self.data, "getlist", None)
        return list(dict.fromkeys(getlist(key) if getlist else [self.data[key]]))

    @property
    def kept_answers(self) -> list[tuple[str, str]]:
        """Those of the answers that no open question shows any more."""
        shown = {answer.token for doubt in self.doubts.values() for answer in doubt.answers}
        return [(name, given) for name, given in self.answered if given not in shown]

    @property
    def open_doubts(self) -> list[Doubt]:
        """Questions that belong to no field."""
        return [doubt for doubt in self.doubts.values() if doubt.field not in self.fields]


def _read(kind: str, text: str, form: AskingForm) -> Reading:
    """A text read as one kind of value, in the clinic's units and its language's decimal mark."""
    policy = form.policy
    habits = Habits(
        weight_unit=policy.weight_unit,
        volume_unit=policy.volume_unit,
        temperature_unit=policy.temperature_unit,
        decimal_mark="," if policy.language == "es" else ".",
    )
    return read_quantity(kind, text, parameters_of(form.content).reading, habits)
