"""Form fields made from the declarations of a kind of entry, and facts from what they hold.

Which fields there are, how they are read and what they are called is declared once, in
`clinical.entry`; here it only becomes a widget.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

from django import forms
from django.utils.functional import lazy
from django.utils.translation import gettext as _

from suffice.clinical.entry.field import (
    Answered,
    Chosen,
    Counted,
    Dialled,
    Fact,
    Field,
    Happened,
    Kept,
    Listed,
    Measured,
    Moment,
    OfContact,
    OfFlag,
    Written,
    default_of,
    fields_of,
    is_required,
)
from suffice.language.terms import grouped
from suffice.message import Message
from suffice.web.fields.choices import FlagField, Word, radios
from suffice.web.fields.dialled import DialledField
from suffice.web.fields.events import EventsField, lines_of
from suffice.web.fields.moment import MomentField
from suffice.web.fields.reading import ReadField
from suffice.web.shown.wording import as_heading, in_clinics_words, in_words

words = lazy(in_words, str)
heading = lazy(as_heading, str)
HOURS_MOST: Final = 999
"""What a field takes; how many hours can be is asked of the content."""

FIELD_OF: Final = {
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


def form_name(name: str) -> str:
    """What the field of a fact is called in its form."""
    return FIELD_OF.get(name, name)


def form_fields(kind: type[Fact]) -> dict[str, forms.Field]:
    """The fields of a form for a kind, by their names in the form."""
    return {
        form_name(name): _made(kind, name, field)
        for name, field in fields_of(kind).items()
        if not isinstance(field, Kept) or isinstance(field, Happened)
    }


def _made(kind: type[Fact], name: str, field: Field) -> forms.Field:  # noqa: PLR0911  # one a sort
    shared: dict[str, Any] = {
        "label": words(field.label),
        "required": is_required(kind, name),
        "help_text": words(field.help),
    }
    usual = None if shared["required"] else default_of(kind, name)
    match field:
        case Measured():
            return _measured(field, shared)
        case Counted():
            return _counted(field, usual, shared)
        case Chosen():
            return radios([(value, heading(called)) for value, called in field.choices], **shared)
        case Listed():
            return _listed(field, shared)
        case Answered():
            return _answered(field, usual, shared)
        case OfFlag():
            return FlagField(none=words(field.none), **shared)
        case Dialled():
            return DialledField(
                field.least_count, field.most_count, max_length=field.longest_characters, **shared
            )
        case Written():
            widget = forms.Textarea if field.is_long else forms.TextInput
            return forms.CharField(max_length=field.longest_characters, widget=widget, **shared)
        case Happened():
            return EventsField(**shared)
        case OfContact():
            return forms.UUIDField(widget=forms.HiddenInput, **shared)
        case Moment():
            return MomentField(**shared)
    raise TypeError(f"no form asks for a {type(field).__name__}")


def _measured(field: Measured, shared: dict[str, Any]) -> forms.Field:
    if field.quantity != "hours":
        return ReadField(field.quantity, **shared)
    return forms.FloatField(
        min_value=field.least_h,
        max_value=HOURS_MOST if field.most_h is None else field.most_h,
        localize=True,
        widget=forms.TextInput({"class": "short", "inputmode": "decimal"}),
        **shared,
    )


def _counted(field: Counted, usual: int | None, shared: dict[str, Any]) -> forms.Field:
    return forms.IntegerField(
        **{**shared, "required": shared["required"] or usual is not None},
        initial=usual,
        min_value=field.least_count,
        max_value=field.most_count,
        widget=forms.NumberInput({"class": "short", "inputmode": "numeric"}),
    )


def _listed(field: Listed, shared: dict[str, Any]) -> forms.Field:
    return forms.ChoiceField(
        choices=lambda: list(_words(field.vocabulary)), widget=forms.RadioSelect, **shared
    )


def _words(vocabulary: str) -> Iterator[tuple[str, Word]]:
    """The words of a vocabulary for a list, the first of each group with its heading."""
    for group, terms in grouped(vocabulary):
        for place, (key, term) in enumerate(terms):
            name, look = Message(template=term.name), Message(template=term.look)
            heading = _group(group, term.about) if place == 0 else ""
            yield key, Word(as_heading(name), in_words(look), heading)


def _group(group: str, about: str) -> str:
    heading = as_heading(Message(template=group))
    return (
        in_clinics_words(_("Parent: %(group)s") % {"group": heading})
        if about == "parent"
        else heading
    )


def _answered(field: Answered, usual: bool | None, shared: dict[str, Any]) -> forms.Field:
    if field.is_box:
        return forms.BooleanField(**{**shared, "required": False})
    if usual is not None:
        shared |= {"required": True, "initial": "yes" if usual else "no"}
    return radios([("yes", words(field.choices[0])), ("no", words(field.choices[1]))], **shared)


def made_fact(kind: type[Fact], given: Callable[[str], Any], kept: dict[str, Any]) -> Fact:
    """The fact that a form holds.

    Args:
        kind: The kind of fact.
        given: Name of a field of the form to its value; None where it was left open.
        kept: Values of the fields that no form asks.
    """
    values: dict[str, Any] = {}
    for name, field in fields_of(kind).items():
        if isinstance(field, Kept) and not isinstance(field, Happened):
            if name in kept or is_required(kind, name):
                values[name] = kept[name]
            continue
        value = given(form_name(name))
        if isinstance(field, Answered) and isinstance(value, str):
            value = value == "yes"
        elif isinstance(field, Chosen) and field.enumeration is not None and value is not None:
            value = field.enumeration(value)
        elif isinstance(field, Measured) and field.quantity == "gestation" and value is not None:
            value = int(value)
        if value is not None or is_required(kind, name):
            values[name] = value
    return kind(**values)


def written_fact(fact: Fact, write: Callable[[str, Any], Any]) -> dict[str, Any]:
    """What the fields of a form hold for a fact that is to be corrected.

    Args:
        fact: The fact.
        write: A function of (quantity, value) that writes a value exactly, as it can be read again.
    """
    found: dict[str, Any] = {}
    for name, field in fields_of(type(fact)).items():
        value = getattr(fact, name)
        if isinstance(field, Happened):
            found[form_name(name)] = lines_of(value)
            continue
        if isinstance(field, Kept):
            continue
        if isinstance(field, Measured) and field.quantity != "hours":
            value = write(field.quantity, value)
        elif isinstance(field, Moment):
            value = write("moment", value)
        elif isinstance(field, Answered) and not field.is_box:
            value = {True: "yes", False: "no", None: ""}[value]
        elif isinstance(field, Chosen):
            value = "" if value is None else str(value)
        found[form_name(name)] = value
    return found
