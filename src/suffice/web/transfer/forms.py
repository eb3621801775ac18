"""A table of weights, feeds and output: what the reader says about it before it is imported."""

from __future__ import annotations

from codecs import BOM_UTF8
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Literal, cast
from uuid import UUID

from django import forms
from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _

from suffice.errors import Problem
from suffice.exchange.table.columns import FIELDS, UNIT_WORDS, UNITS, Column, Field, meaning
from suffice.exchange.table.file import DELIMITERS, ENCODINGS
from suffice.exchange.table.options import CsvOptions, by_name
from suffice.message import Number, message
from suffice.web.fields.choices import radios
from suffice.web.fields.moment import MomentField
from suffice.web.fields.reading import AskingForm
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.shown.wording import in_words

lazily = lazy(in_words, str)
COLUMN_PREFIX = "column-"
FILE_BYTES = 15 * 1024 * 1024
FAMILY_FILE_BYTES = 2 * 1024 * 1024
"""Some 5000 entries, ten times what a family comes to; a page waits while they are compared."""
LINES_MOST = 100_000
"""Of a table; each look at it reads all of them, and a page waits for it."""


class FileForm(SpokenForm):
    """A file, and which family it is about."""

    file = forms.FileField(
        label=_("File"),
        help_text=_("A family file (.json), or a table of weights, feeds and output (.csv)"),
        widget=forms.FileInput({"accept": ".json,.csv,.txt,application/json,text/csv"}),
    )
    family = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def clean_file(self) -> bytes:
        """The bytes; a file that is too long is refused before it is read."""
        sent = self.cleaned_data["file"]
        if sent.size > FILE_BYTES:
            too_long = Problem(
                code="FORM-010",
                what=message("The file has {size} MB.", size=Number(sent.size / 1024**2, 0)),
                why=message("At most {most} MB can be sent here.", most=FILE_BYTES // 1024**2),
                fix=message("Divide it, or import it with the command line."),
            )
            raise forms.ValidationError(words_of(too_long))
        content: bytes = sent.read()
        if is_family_file(content):
            if len(content) > FAMILY_FILE_BYTES:
                raise forms.ValidationError(words_of(_long_family_file(len(content))))
        elif (lines := max(content.count(b"\n"), content.count(b"\r"))) > LINES_MOST:
            raise forms.ValidationError(words_of(_long_table(lines)))
        return content


def is_family_file(content: bytes) -> bool:
    """Whether a file is JSON, as it begins; anything else is read as a table."""
    return content.removeprefix(BOM_UTF8).lstrip()[:1] in {b"{", b"["}


def _long_family_file(size: int) -> Problem:
    return Problem(
        code="FORM-012",
        what=message("The family file has {size} MB.", size=Number(size / 1024**2, 0)),
        why=message("At most {most} MB can be sent here.", most=FAMILY_FILE_BYTES // 1024**2),
        fix=message("Import it with the command line."),
    )


def _long_table(lines: int) -> Problem:
    return Problem(
        code="FORM-013",
        what=message("The table has {lines} lines.", lines=lines),
        why=message("At most {most} are read here.", most=LINES_MOST),
        fix=message("Divide it, or import it with the command line."),
    )


def meanings() -> list[tuple[str, str]]:
    """Everything a column may hold, with its unit where it has one."""
    choices = []
    for field in FIELDS:
        units, words = UNITS.get(field, ()), in_words(meaning(field))
        if units:
            choices += [
                (f"{field} {unit}", f"{words}, {in_words(UNIT_WORDS.get(unit, unit))}")
                for unit in units
            ]
            words = _("%(words)s, unit in each cell") % {"words": words}
        choices.append((str(field), words))
    for counted in (Field.WETS, Field.STOOLS):
        words = _("%(words)s in 24 h") % {"words": in_words(meaning(counted))}
        choices.append((f"{counted.value} in 24 h", words))
    return choices


class TeamForm(SpokenForm):
    """To which team a new family goes."""

    team = radios([], _("Team"), required=True)

    def __init__(self, *args: Any, teams: Sequence[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        cast("forms.ChoiceField", self.fields["team"]).choices = teams


class TableForm(AskingForm):
    """What the columns mean, and what the file itself does not say."""

    team = radios([], _("Team of new families"))
    source = forms.CharField(
        label=_("Name of this source"),
        required=False,
        max_length=60,
        help_text=_(
            "For a table of many infants: the same name and infant again are the same family"
        ),
    )
    date_order = radios(
        [("day first", _("day first")), ("month first", _("month first"))], _("Order of dates")
    )
    decimal_mark = radios([(".", _("point")), (",", _("comma"))], _("Mark before decimals"))
    repeated_hour = radios(
        [("first", _("the first time")), ("second", _("the second time"))],
        _("An hour that the clock showed twice"),
    )
    time_of_day = forms.CharField(
        label=_("Time of day where the table has dates only"),
        required=False,
        max_length=8,
        help_text=_("For example 12:00"),
        widget=forms.TextInput({"class": "short"}),
    )
    over_h = forms.FloatField(
        label=_("Hours that a count of wets or stools covers"),
        required=False,
        min_value=1,
        max_value=168,
        widget=forms.TextInput({"class": "short", "inputmode": "decimal"}),
    )
    born_at = MomentField(
        label=_("An invented birth that ages are counted from"),
        required=False,
        help_text=_(
            "Only for a table that has ages and no birth dates; a note in the record says so"
        ),
    )
    first_is_birth_weight = forms.BooleanField(
        label=_("A weight at age 0 is the birth weight"), required=False
    )
    encoding = forms.ChoiceField(
        label=_("Encoding"),
        required=False,
        choices=[("", _("as found")), *((one, one) for one in ENCODINGS)],
    )
    delimiter = forms.ChoiceField(
        label=_("What parts the columns"),
        required=False,
        choices=[("", _("as found")), *((mark, lazily(name)) for mark, name in DELIMITERS.items())],
    )
    leave_out_bad_rows = forms.BooleanField(
        label=_("Leave out rows that cannot be read and import the rest"), required=False
    )
    accept_doubtful = forms.BooleanField(
        label=_("I have looked at the doubtful values; import them as they are"), required=False
    )

    def __init__(
        self,
        *args: Any,
        columns: Sequence[Column],
        infants: Sequence[tuple[UUID, str]] = (),
        teams: Sequence[tuple[str, str]] = (),
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        if self.policy.date_order == "month first":
            field = cast("forms.ChoiceField", self.fields["date_order"])
            day, month, *rest = cast("list[tuple[str, str]]", field.choices)
            field.choices = [month, day, *rest]  # the likelier answer first
        if teams:
            cast("forms.ChoiceField", self.fields["team"]).choices = teams
        else:
            del self.fields["team"]
        self.columns = columns
        self.infants = infants
        if infants:
            del self.fields["source"]
        choices = meanings()
        known = {value for value, _words in choices}
        for column in columns:
            meant = column.spelt if column.spelt in known else str(column.field)
            self.fields[f"{COLUMN_PREFIX}{column.index}"] = forms.ChoiceField(
                label=column.header or _("(no name)"), choices=choices, initial=meant
            )

    @property
    def team_id(self) -> UUID | None:
        """The team to which new families go, where it was asked and answered; of a valid form."""
        named = self.cleaned_data.get("team")
        return UUID(named) if named else None

    @property
    def mapping(self) -> list[Any]:
        """The fields of the columns."""
        return [self[f"{COLUMN_PREFIX}{column.index}"] for column in self.columns]

    @property
    def conventions(self) -> list[Any]:
        """The other fields."""
        return [field for field in self if not field.name.startswith(COLUMN_PREFIX)]

    def options(self, *, actor: str, now: datetime) -> CsvOptions:
        """What was answered. The form must be valid, or bound to nothing: then only the guesses."""
        answers = self.cleaned_data if self.is_bound else {}

        def word(name: str) -> Any:
            return answers.get(name) or None

        order: dict[str, Literal["day first", "month first"]] = {
            "day first": "day first",
            "month first": "month first",
        }
        return CsvOptions(
            zone=self.policy.zone,
            entered_by=actor,
            entered_at=now,
            source=answers.get("source") or "",
            encoding=word("encoding"),
            delimiter=word("delimiter"),
            decimal_mark=word("decimal_mark"),
            columns={
                column.header: answers[f"{COLUMN_PREFIX}{column.index}"]
                for column in self.columns
                if answers.get(f"{COLUMN_PREFIX}{column.index}")
            },
            date_order=order.get(answers.get("date_order", "")),
            repeated_hour=word("repeated_hour"),
            time_of_day=word("time_of_day"),
            born_at=word("born_at"),
            first_is_birth_weight=bool(answers.get("first_is_birth_weight")),
            over_h=word("over_h"),
            leave_out_bad_rows=bool(answers.get("leave_out_bad_rows")),
            accept_doubtful=bool(answers.get("accept_doubtful")),
            infants=by_name(self.infants),
            language=self.policy.language,
        )
