"""Choices to press, and lists to choose from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from suffice.knowledge.store import load
from suffice.language.text import upper_first

Choices = Sequence[tuple[str, Any]]
NOT_ASKED = ("", _("Not asked"))


class Word:
    """A word of a vocabulary as a list shows it; the first of a group carries its heading."""

    def __init__(self, name: str, look: str, heading: str = "") -> None:
        self.name = name
        self.look = look
        self.heading = heading

    def __str__(self) -> str:
        """The word alone, as messages repeat it."""
        return self.name


class FlagField(forms.ChoiceField):
    """One of the flags that are open; the form says which those are.

    A flag that ended while somebody typed is taken too: what was done about it stays true.
    """

    def __init__(self, *, none: Any = "", **options: Any) -> None:
        self.none = none
        super().__init__(choices=(), widget=forms.RadioSelect, **options)

    def offer(self, flags: Choices) -> None:
        """Offer these flags, and that none is meant where that can be said."""
        self.choices = [*flags] if self.required else [("", upper_first(str(self.none))), *flags]

    def valid_value(self, value: Any) -> bool:
        """Whether it is offered, or is the code of a flag of the content."""
        return super().valid_value(value) or any(one.code == value for one in load().flags)


def date_orders() -> Choices:
    """The orders of day, month and year, each with a date to see it."""
    return [
        ("day first", _("the day first: 25 Nov 2026")),
        ("month first", _("the month first: Nov 25, 2026")),
        ("year first", _("the year first: 2026 Nov 25")),
    ]


def radios(
    choices: Choices, label: Any, *, required: bool = False, **options: Any
) -> forms.ChoiceField:
    """A row of choices to press; when it may be left open, 'not asked' is the last of them."""
    shown = list(choices) if required else [*choices, NOT_ASKED]
    return forms.ChoiceField(
        choices=shown, label=label, required=required, widget=forms.RadioSelect, **options
    )
