"""Choices to press, and lists to choose from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

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


def radios(
    choices: Choices, label: Any, *, required: bool = False, **options: Any
) -> forms.ChoiceField:
    """A row of choices to press; when it may be left open, 'not asked' is one of them."""
    shown = list(choices) if required else [NOT_ASKED, *choices]
    return forms.ChoiceField(
        choices=shown, label=label, required=required, widget=forms.RadioSelect, **options
    )
