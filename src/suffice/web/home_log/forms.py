"""The grid of a log as a form: a field a box, read as people write it, doubts asked about."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from datetime import date, timedelta
from typing import Any, Final, cast
from uuid import UUID

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from suffice.care.home_log.entering import COLOURS, MILKS, Log, LogRow, Placed
from suffice.errors import Problem
from suffice.inference.home_log import grid
from suffice.language.times import day_text
from suffice.message import message
from suffice.web.fields.reading import AskingForm, ReadField
from suffice.web.fields.sent import number_sent
from suffice.web.fields.spoken import words_of

PLACE: Final = re.compile(r"entries\[(\d+)\]\.(\w+)")
UNSURE: Final = "?"
"""What stands in a box that was not read for sure, until somebody says what is in it."""
MOST_COUNT: Final = 9
DAYS_BACK: Final = 31
"""Days to choose from, today among them."""
SHOWN: Final = 20
"""Characters of a wrong text that a message repeats."""
AMOUNTS: Final = frozenset(one.name for one in grid.COLUMNS if one.kind == "amount")
FIELD_OF: Final[Mapping[str, str]] = {
    "volume_ml": "milk",
    "left_ml": "pumped_left",
    "right_ml": "pumped_right",
}
"""Field of a fact to the column in which it is written."""


class TickField(forms.Field):
    """How often something was ticked in a box: empty is not at all, and a question mark is not known yet."""

    def __init__(self, **options: Any) -> None:
        attributes = {
            "class": "tick",
            "inputmode": "numeric",
            "maxlength": "1",
            "autocomplete": "off",
        }
        super().__init__(required=False, widget=forms.TextInput(attributes), **options)

    def to_python(self, value: object) -> int:
        """The count.

        Raises:
            ValidationError: It is no digit, or a box that was not read for sure is still open.
        """
        text = str(value or "").strip()
        if text == UNSURE:
            raise ValidationError(words_of(_open_box()))
        if not text:
            return 0
        count = number_sent(text, MOST_COUNT)
        if count is None:
            raise ValidationError(words_of(_no_count(text)))
        return count


def _open_box() -> Problem:
    return Problem(
        code="LOG-007",
        what=message("This box was not read for sure."),
        why=message("Something covers it, or the mark is too faint."),
        fix=message("Look at the sheet, then type how many: 0 for none."),
    )


class AmountField(ReadField):
    """An amount as it is typed; a question mark stands for a number that nobody has typed from its picture yet."""

    def to_python(self, value: object) -> str:
        """What was typed, which the form reads.

        Raises:
            ValidationError: Nobody has typed the number that stands there.
        """
        if str(value or "").strip() == UNSURE:
            raise ValidationError(words_of(_open_amount()))
        return super().to_python(value) or ""


def _open_amount() -> Problem:
    return Problem(
        code="LOG-007",
        what=message("The number in this box is not typed yet."),
        why=message("Numbers are not read from a photograph."),
        fix=message("Type it as it is on the sheet, or empty the box."),
    )


def _no_count(text: str) -> Problem:
    return Problem(
        code="LOG-008",
        what=message("“{text}” is no count.", text=text[:SHOWN]),
        why=message("A box says how often something was ticked, 0 to {most}.", most=MOST_COUNT),
        fix=message("Type a digit, or leave it empty."),
    )


class LogForm(AskingForm):
    """A log of one infant, box by box."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    on = forms.DateField(label=gettext_lazy("Date of the first row"), widget=forms.Select)
    is_whole = forms.BooleanField(
        label=gettext_lazy("The family says that everything of these 24 hours is on the sheet"),
        help_text=gettext_lazy("Only then an empty column means none."),
        required=False,
    )

    def __init__(self, *args: Any, today: date, is_read: bool = False, **options: Any) -> None:
        """A grid for one of the last days.

        Args:
            args: As a form takes them.
            today: The date on the clinic's calendar.
            is_read: Whether it was filled from a photograph, and has to be compared with the sheet.
            options: As :class:`AskingForm` takes them.
        """
        super().__init__(*args, **options)
        # In the clinic's words and order: a browser's own field for dates has another one.
        days = {today - timedelta(days=back) for back in range(DAYS_BACK)}
        # A day that was sent stays chosen, whatever it is: else the first of the list would stand there.
        with suppress(ValueError):
            days.add(date.fromisoformat(self.data.get("on", "")))
        widget = cast("forms.Select", self.fields["on"].widget)
        widget.choices = [
            (day.isoformat(), self._day_words(day, today)) for day in sorted(days, reverse=True)
        ]
        if is_read:
            self.fields["compared"] = forms.BooleanField(
                label=_("I have compared every row with the sheet"),
            )
        self.order: tuple[Placed, ...] = ()
        for row in range(grid.ROWS):
            for column in grid.COLUMNS:
                label = f"{grid.hour_of(row)}:00"
                if column.kind == "amount":
                    self.fields[f"{column.name}-{row}"] = AmountField(
                        "volume", label=label, required=False
                    )
                else:
                    self.fields[f"{column.name}-{row}"] = TickField(label=label)

    def _day_words(self, day: date, today: date) -> str:
        policy = self.policy
        text = day_text(day, policy.language, order=policy.date_order)
        near = {0: _("today"), 1: _("yesterday")}.get((today - day).days)
        return text if near is None else f"{near}, {text}"

    def show(self, problem: Problem, field: str) -> None:
        """Show a problem in the row that it is about."""
        found = PLACE.match(field)
        if found or len(self.order) == 1:
            number, name = (int(found[1]), found[2]) if found else (0, field)
            row = self.order[number].row
            column = FIELD_OF.get(name, "left")
            field = "on" if row is None or name == "true_at" else f"{column}-{row}"
        super().show(problem, field)

    def log(self, infant_id: UUID) -> Log:
        """The sheet that was typed. The form must be valid."""
        sent = self.cleaned_data
        on: date = sent["on"]
        return Log(
            key=sent["key"],
            infant_id=infant_id,
            on=on,
            zone=self.policy.zone,
            rows=tuple(one for one in map(self._row, range(grid.ROWS)) if one is not None),
            is_whole=sent["is_whole"],
        )

    def _row(self, row: int) -> LogRow | None:
        """What a row says; None where nothing is in it."""

        def given(name: str) -> Any:
            return self.cleaned_data.get(f"{name}-{row}")

        made = LogRow(
            row=row,
            left=given("left"),
            right=given("right"),
            milk_ml=_amount(given("milk")),
            milks=tuple(milk for milk in MILKS if given(milk)),
            pumped_left_ml=_amount(given("pumped_left")),
            pumped_right_ml=_amount(given("pumped_right")),
            wets=given("wet"),
            stools=tuple((colour, given(colour)) for colour in COLOURS if given(colour)),
        )
        return None if made == LogRow(row=row) else made


def _amount(value: Any) -> float | None:
    return None if value in ("", None) else float(value)
