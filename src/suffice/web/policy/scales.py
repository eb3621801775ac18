"""The clinic's scales on the policy form: five fields for each, and five empty ones for the next."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from suffice.inference.evidence import Scale

PREFIX = "scale:"
NUMBERS = {
    "bias_g": _("Known error of this scale, g (what it shows minus the truth)"),
    "bias_sd_g": _("How uncertain that error is, g (one SD)"),
    "precision_sd_g": _("How far repeated weights on it differ, g (one SD)"),
    "resolution_g": _("Step of its display, g"),
}


def name_of(place: int, part: str) -> str:
    """The name of one field of the scale at a place."""
    return f"{PREFIX}{place}:{part}"


def scale_fields(scales: Sequence[Scale]) -> dict[str, forms.Field]:
    """The fields of the scales that are known, and of one more."""
    fields: dict[str, forms.Field] = {}
    for place in range(len(scales) + 1):
        known = scales[place] if place < len(scales) else None
        fields[name_of(place, "name")] = forms.CharField(
            label=_("Scale: the name under which weights are entered"),
            required=False,
            max_length=80,
            initial=known.name if known else "",
            help_text=_("Leave the name empty to take a scale off the list"),
            widget=forms.TextInput({"autocomplete": "off"}),
        )
        for part, label in NUMBERS.items():
            value = getattr(known, part) if known else None
            fields[name_of(place, part)] = forms.CharField(
                label=label,
                required=False,
                max_length=12,
                initial="" if value is None else f"{value:g}",
                widget=forms.TextInput({"inputmode": "decimal", "class": "short"}),
            )
    return fields


def read_scales(
    cleaned: Mapping[str, Any], count: int
) -> tuple[list[dict[str, Any]], list[tuple[str, str]]]:
    """The scales as plain settings, and (field, text) for each text that is no possible number.

    Args:
        cleaned: The form's cleaned data.
        count: How many scales the form had fields for.
    """
    scales: list[dict[str, Any]] = []
    wrong: list[tuple[str, str]] = []
    for place in range(count):
        name = str(cleaned.get(name_of(place, "name")) or "").strip()
        if not name:
            continue
        scale: dict[str, Any] = {"name": name}
        for part in NUMBERS:
            text = str(cleaned.get(name_of(place, part)) or "").strip()
            if text:
                value = _number(text)
                if math.isfinite(value) and (value >= 0 or part == "bias_g"):
                    scale[part] = value
                else:
                    wrong.append((name_of(place, part), text))
        scales.append(scale)
    return scales, wrong


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return math.nan
