"""Fields for a date and a time, or a date, in the clinic's order: shown, typed and read back so.

A browser's own field has the order and the clock of its device. Here a line of text has the clinic's,
with the digits of a number keypad; beside it stands in words what was read, and the device's own
calendar is one press away (``moments.js``). Without scripts the line alone does.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, get_args

from django import forms
from django.forms.boundfield import BoundField
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from suffice.errors import InputError
from suffice.exchange.local_time import local_time, read_day, written
from suffice.knowledge.policy import DateOrder
from suffice.language.times import MONTHS, WEEKDAYS
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.shown.wording import day_words, in_words, order_of_dates

ORDERS: tuple[DateOrder, ...] = get_args(DateOrder)
SUFFIX = "-order"
"""The order in which a page showed a field is sent with it: the clinic may have changed it since."""

WITH_TIME = {
    "day first": _("Day, month, year and time, like 25/11/2026 14:30"),
    "month first": _("Month, day, year and time, like 11/25/2026 14:30"),
    "year first": _("Year, month, day and time, like 2026-11-25 14:30"),
}
DAY_ALONE = {
    "day first": _("Day, month and year, like 25/11/2026"),
    "month first": _("Month, day and year, like 11/25/2026"),
    "year first": _("Year, month and day, like 2026-11-25"),
}


class LocalInput(forms.TextInput):
    """A line of text for a local time, or for a date, in the clinic's order.

    Attributes:
        order: The clinic's order; of the page that is written where no form sets it.
        has_time: Whether a time of day is asked.
    """

    order: DateOrder | None = None

    def __init__(self, *, has_time: bool) -> None:
        super().__init__({"class": "short", "autocomplete": "off", "dir": "ltr"})
        self.has_time = has_time

    def format_value(self, value: Any) -> str | None:
        """A time in ISO 8601, or as it was typed, as the clinic writes it."""
        text = super().format_value(value)
        local = None if text is None else self._read(text, self._order)
        return text if local is None else written(local, self._order)

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """What was sent, in the clinic's order: read in the order in which its page showed it."""
        text = super().value_from_datadict(data, files, name)
        shown_in = data.get(name + SUFFIX, self._order)
        if text is None or shown_in == self._order or shown_in not in ORDERS:
            return text
        local = self._read(text, shown_in)
        return text if local is None else written(local, self._order)

    def render(
        self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None
    ) -> SafeString:
        """The field, its order, and in words what stands in it."""
        attrs = {"inputmode": "numeric", "data-local": "time" if self.has_time else "day"} | (
            attrs or {}
        )
        field_id = attrs.get("id", name)
        described = [attrs.get("aria-describedby", ""), f"{field_id}_form", f"{field_id}_said"]
        attrs["aria-describedby"] = " ".join(one for one in described if one)
        text = self.format_value(value)
        local = None if text is None else self._read(text, self._order)
        context = {
            "field": super().render(name, value, attrs, renderer),
            "order_name": name + SUFFIX,
            "order": self._order,
            "days": " ".join(in_words(one) for one in WEEKDAYS),
            "months": " ".join(in_words(one) for one in MONTHS),
            "said": "" if local is None else self._words(local),
            "field_id": field_id,
            "hint": (WITH_TIME if self.has_time else DAY_ALONE)[self._order],
        }
        return SafeString(render_to_string("fields/local.html", context))

    @property
    def _order(self) -> DateOrder:
        return self.order or order_of_dates()

    def _read(self, text: str, order: DateOrder) -> date | None:
        try:
            return local_time(text, order) if self.has_time else read_day(text, order)
        except InputError:
            return None

    def _words(self, local: date) -> str:
        day = day_words(local, self._order)
        return f"{day}, {local:%H:%M}" if isinstance(local, datetime) else day


class MomentField(forms.CharField):
    """A date and a time on the clinic's clock; the form reads it in its zone."""

    def __init__(self, **options: Any) -> None:
        super().__init__(widget=LocalInput(has_time=True), max_length=40, **options)

    def get_bound_field(self, form: Any, field_name: str) -> BoundField:
        """The field in its form, in the order of the form's clinic."""
        policy = getattr(form, "policy", None)
        self.widget.order = None if policy is None else policy.date_order
        return super().get_bound_field(form, field_name)


class DayField(forms.CharField):
    """A date, in the clinic's order."""

    def __init__(self, **options: Any) -> None:
        super().__init__(widget=LocalInput(has_time=False), max_length=40, **options)

    def clean(self, value: Any) -> Any:
        """The date; None where none was written.

        Raises:
            forms.ValidationError: It cannot be read as one.
        """
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_day(text, order_of_dates())
        except InputError as refusal:
            raise forms.ValidationError(words_of(refusal.problems[0])) from refusal


class AsOfForm(SpokenForm):
    """An instant of the past for which a page is asked."""

    as_of = MomentField(label=_("As of"))
