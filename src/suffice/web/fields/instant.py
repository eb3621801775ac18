"""An instant that a page writes into a form and gets back: of a device's clock, or of our own."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django import forms

from suffice.clinical.structure import EARLIEST, LATEST


def instant_sent(text: str) -> datetime:
    """An instant with its offset, as a page writes it; in UTC.

    Raises:
        ValueError: It is none, or one that no record can hold: near the ends of the calendar the
            same instant cannot even be said in UTC.
    """
    sent = datetime.fromisoformat(text)
    if sent.tzinfo is None or not EARLIEST <= sent <= LATEST:
        raise ValueError(text)
    return sent.astimezone(UTC)


class InstantField(forms.CharField):
    """A hidden instant; what a page of ours does not write is refused."""

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=40, widget=forms.HiddenInput, **options)

    def clean(self, value: Any) -> Any:
        """The instant, in UTC.

        Raises:
            forms.ValidationError: It is none that a page of ours writes.
        """
        try:
            return instant_sent(super().clean(value))
        except ValueError as error:
            raise forms.ValidationError("", code="invalid") from error
