"""A telephone number, as people write it and as a telephone dials it."""

from __future__ import annotations

import re
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from suffice.web.fields.spoken import goes_together
from suffice.web.shown.telephone import dialled, plain

WRITTEN: Final = re.compile(r"\+?[0-9 ()./\-]*", re.ASCII)
"""What a number is written with: digits, a plus in front, and what sets groups apart."""


class DialledField(forms.CharField):
    """A number with so many digits; it is kept as it was written."""

    widget = forms.TextInput({"type": "tel", "inputmode": "tel", "autocomplete": "off"})

    def __init__(self, least: int, most: int, **options: Any) -> None:
        """A field for a number of `least` to `most` digits; the rest as Django's."""
        self.least, self.most = least, most
        super().__init__(**options)

    def clean(self, value: Any) -> str:
        """The number, where it can be dialled."""
        text = str(super().clean(value) or "")
        digits = len(dialled(text).removeprefix("+"))
        if text and not (WRITTEN.fullmatch(plain(text)) and self.least <= digits <= self.most):
            why = _("This is no telephone number.")
            fix = _("Write %(least)s to %(most)s digits; words go into the field below.")
            raise ValidationError(
                goes_together(why, fix % {"least": self.least, "most": self.most})
            )
        return text
