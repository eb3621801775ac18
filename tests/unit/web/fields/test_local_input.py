"""A field for a local time: shown in the clinic's order, and read in the order in which it was shown."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django import forms
from django.http import QueryDict

from suffice.knowledge.policy import DateOrder, Policy
from suffice.web.fields.moment import DayField, LocalInput
from suffice.web.shown.wording import speak_as

ORDERS = ("day first", "month first", "year first")


def a_field(order: DateOrder, *, has_time: bool = True) -> LocalInput:
    field = LocalInput(has_time=has_time)
    field.order = order
    return field


@pytest.mark.parametrize(
    ("order", "shown", "words", "like"),
    [
        ("day first", "03/04/2026 09:05", "Fri 3 Apr 2026, 09:05", "25/11/2026 14:30"),
        ("month first", "04/03/2026 09:05", "Fri Apr 3, 2026, 09:05", "11/25/2026 14:30"),
        ("year first", "2026-04-03 09:05", "Fri 2026 Apr 3, 09:05", "2026-11-25 14:30"),
    ],
)
def test_a_time_is_shown_in_the_clinics_order_and_said_in_words(
    order: DateOrder, shown: str, words: str, like: str
) -> None:
    html = a_field(order).render("when", "2026-04-03T09:05", {"id": "id_when"})
    assert f'value="{shown}"' in html
    assert f">{words}</output>" in html
    assert f"like {like}" in html
    assert f'name="when-order" value="{order}"' in html
    assert 'inputmode="numeric"' in html


def test_what_cannot_be_read_is_shown_as_it_was_typed_and_said_to_be_nothing() -> None:
    html = a_field("day first").render("when", '"><b>31/31/2026 10:00', {"id": "id_when"})
    assert "<b>" not in html
    assert "31/31/2026 10:00" in html
    assert "></output>" in html


def sent(field: LocalInput, **data: str) -> Any:
    form = QueryDict(mutable=True)
    form.update({name.replace("_", "-"): value for name, value in data.items()})
    return field.value_from_datadict(form, {}, "when")


def test_what_a_page_of_the_old_order_sends_is_read_as_it_was_shown() -> None:
    field = a_field("month first")
    assert sent(field, when="03/04/2026 09:05", when_order="day first") == "04/03/2026 09:05"
    assert sent(field, when="03/04/2026 09:05", when_order="month first") == "03/04/2026 09:05"
    assert sent(field, when="03/04/2026 09:05") == "03/04/2026 09:05"
    assert sent(field, when="03/04/2026 09:05", when_order="any") == "03/04/2026 09:05"
    assert sent(field, when="25/25/2026 09:05", when_order="day first") == "25/25/2026 09:05"
    assert sent(field) is None


@pytest.mark.parametrize("order", ORDERS)
def test_a_day_alone_is_read_in_the_clinics_order(order: DateOrder) -> None:
    speak_as(Policy(date_order=order))
    try:
        text = {"day first": "03/04/2026", "month first": "04/03/2026", "year first": "2026-04-03"}
        assert DayField().clean(text[order]) == date(2026, 4, 3)
        assert DayField().clean("2026-04-03") == date(2026, 4, 3)
        assert DayField(required=False).clean("") is None
        with pytest.raises(forms.ValidationError, match=r"Write it like .*\(CLOCK-001\)"):
            DayField().clean("25/25/2026")
    finally:
        speak_as(Policy())
