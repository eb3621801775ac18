"""A fact of the record in words, and in the fields of its form."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from suffice.clinical import entry as domain
from suffice.clinical.reading.writing import NO_BREAK_SPACE
from suffice.language.kinds import KINDS, SETTINGS, choice_name, setting_name
from suffice.web.shown.wording import Wording, as_heading, in_words


def kind_of(fact: domain.Fact) -> str:
    """The name of a fact's kind."""
    return str(type(fact).__struct_config__.tag)


def kind_word(fact: domain.Fact) -> str:
    """The kind of a fact in the clinic's language."""
    return as_heading(KINDS[kind_of(fact)])


def value_word(value: str | None) -> str:
    """A choice of the record in the clinic's language; empty when it was not asked."""
    return in_words(choice_name(value))


def describe(fact: domain.Fact, wording: Wording) -> str:
    """A fact in one line; what was not asked is left out."""
    return ", ".join(part for part in _PARTS[type(fact)](fact, wording) if part)


def _birth(fact: domain.Birth, wording: Wording) -> list[str]:
    return [
        str(wording.weight(fact.birth_weight_g)) if fact.birth_weight_g is not None else "",
        value_word(fact.sex),
        wording.gestation(fact.gestation_days) if fact.gestation_days is not None else "",
        value_word(fact.mode),
        _("%(volume)s of fluids in labour") % {"volume": wording.volume(fact.intrapartum_fluids_ml)}
        if fact.intrapartum_fluids_ml is not None
        else "",
        _("one of %(n)s") % {"n": fact.multiple} if (fact.multiple or 1) > 1 else "",
    ]


def _weight(fact: domain.Weight, wording: Wording) -> list[str]:
    return [
        str(wording.weight(fact.weight_g)),
        value_word(fact.clothing),
        value_word(fact.feed_state),
    ]


def _size(fact: domain.Size, wording: Wording) -> list[str]:
    length, head = fact.length_cm, fact.head_cm
    return [
        _("length %(cm)s") % {"cm": wording.length(length)} if length is not None else "",
        _("head %(cm)s") % {"cm": wording.length(head)} if head is not None else "",
    ]


def _test_weight(fact: domain.TestWeight, wording: Wording) -> list[str]:
    same = {True: _("same clothes"), False: _("clothes changed"), None: ""}[fact.same_clothes]
    weights = _("%(before)s before, %(after)s after") % {
        "before": wording.weight(fact.before_g),
        "after": wording.weight(fact.after_g),
    }
    return [weights, _minutes(fact.minutes, wording), same, value_word(fact.side)]


def _feed(fact: domain.Feed, wording: Wording) -> list[str]:
    volume = str(wording.volume(fact.volume_ml)) if fact.volume_ml is not None else ""
    return [value_word(fact.milk), volume, value_word(fact.side), _minutes(fact.minutes, wording)]


def _expression(fact: domain.Expression, wording: Wording) -> list[str]:
    left, right, hours = fact.left_ml, fact.right_ml, fact.hours_since_last
    return [
        _("left %(volume)s") % {"volume": wording.volume(left)} if left is not None else "",
        _("right %(volume)s") % {"volume": wording.volume(right)} if right is not None else "",
        _minutes(fact.minutes, wording),
        value_word(fact.method),
        _("%(h)s h since the last") % {"h": wording.number(hours, 1)} if hours is not None else "",
    ]


def _wet(fact: domain.Wet, wording: Wording) -> list[str]:
    return [_counted(fact.count, fact.over_h, wording)]


def _stool(fact: domain.Stool, wording: Wording) -> list[str]:
    counted = _counted(fact.count, fact.over_h, wording)
    return [counted, value_word(fact.colour), value_word(fact.amount)]


def _temperature(fact: domain.Temperature, wording: Wording) -> list[str]:
    return [str(wording.temperature(fact.temperature_c)), value_word(fact.site)]


def _illness(fact: domain.Illness, _wording: Wording) -> list[str]:
    return [fact.what, "" if fact.present else _("over")]


def _contact(fact: domain.Contact, wording: Wording) -> list[str]:
    due = fact.next_due_at
    return [
        str(setting_word(fact.setting)),
        _("next due %(when)s") % {"when": wording.when(due)} if due else "",
        _("discharged from care") if fact.discharged else "",
    ]


def _minutes(minutes: float | None, wording: Wording) -> str:
    return "" if minutes is None else f"{wording.number(minutes)}{NO_BREAK_SPACE}min"


def _counted(count: int, over_h: float | None, wording: Wording) -> str:
    if over_h is None:
        return ngettext("%(n)s", "%(n)s", count) % {"n": count}
    hours = wording.number(over_h, 0 if over_h == int(over_h) else 1)
    return _("%(n)s in %(hours)s h") % {"n": count, "hours": hours}


_PARTS: Final[dict[type[domain.Fact], Callable[[Any, Wording], list[str]]]] = {
    domain.Birth: _birth,
    domain.Weight: _weight,
    domain.Size: _size,
    domain.TestWeight: _test_weight,
    domain.Feed: _feed,
    domain.Expression: _expression,
    domain.Wet: _wet,
    domain.Stool: _stool,
    domain.Temperature: _temperature,
    domain.Illness: _illness,
    domain.Contact: _contact,
    domain.Identity: lambda fact, _wording: [fact.name],
    domain.Note: lambda fact, _wording: [fact.text],
    domain.Withdrawal: lambda fact, _wording: [fact.reason],
}


def writer(wording: Wording) -> Callable[[str, Any], str]:
    """A function that writes a stored value for a field, exactly: reading it back gives it again.

    The stored unit stands beside the number, so that correcting one field of an entry can never
    round another one.
    """

    def write(kind: str, value: Any) -> str:
        if value is None:
            return ""
        if isinstance(value, datetime):
            return wording.field(value)
        if kind == "gestation":
            return wording.gestation(int(value))
        unit = {
            "weight": "g",
            "volume": "mL",
            "temperature": "C",
            "length": "cm",
            "duration": "min",
        }
        exact = repr(float(value)).removesuffix(".0").replace(".", wording.mark)
        return f"{exact} {unit[kind]}"

    return write


def setting_word(setting: Any) -> str:
    """A setting in the clinic's language."""
    return as_heading(setting_name(getattr(setting, "value", setting) or None))


def setting_words() -> Sequence[tuple[str, str]]:
    """Every setting with its word."""
    return tuple((setting, as_heading(name)) for setting, name in SETTINGS.items())
