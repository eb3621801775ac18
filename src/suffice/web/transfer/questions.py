"""What is open about a table, one question at a time, and what was answered already."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import msgspec
from django.forms.boundfield import BoundField
from django.utils.translation import gettext as _

from suffice.errors import InputError, Problem
from suffice.exchange.moment import read_date
from suffice.exchange.table.columns import Field, meaning
from suffice.exchange.table.file import is_missing
from suffice.exchange.table.importing import Preview
from suffice.exchange.table.times import without_midnight
from suffice.message import Day, message
from suffice.web.shown.wording import in_words
from suffice.web.transfer.forms import COLUMN_PREFIX, TableForm

FIELD_OF = {
    "CSV-003": "encoding",
    "CSV-004": "delimiter",
    "CSV-011": "date_order",
    "CSV-012": "date_order",
    "CSV-031": "time_of_day",
    "CLOCK-006": "time_of_day",
    "CSV-032": "born_at",
    "CSV-033": "born_at",
    "CSV-034": "source",
    "CSV-036": "over_h",
    "CSV-038": "decimal_mark",
    "CSV-039": "over_h",
    "ACCESS-003": "team",
}
"""A question, and the field of the form that answers it."""
PRESSED = frozenset({"encoding", "delimiter", "date_order", "decimal_mark", "team"})
"""Fields with a few answers, each of which is a button: one tap answers."""
OF_COLUMNS = frozenset({"CSV-022", "CSV-023", "CSV-030", "CSV-035", "CSV-037"})
"""Questions that are answered by saying what a column means."""
HELD_BY: dict[str, tuple[str, ...]] = {
    "CSV-031": (Field.DATE, Field.BIRTH_DATE, Field.MOMENT, Field.BIRTH_MOMENT),
    "CSV-032": (Field.AGE,),
    "CSV-034": (Field.INFANT,),
    "CSV-036": (Field.WETS, Field.STOOLS),
    "CSV-037": (Field.VOLUME,),
}
"""Columns of which a question shows some cells."""
MILKS = (Field.EXPRESSED, Field.DONOR, Field.FORMULA)
EXAMPLES = 3
FLAGS = frozenset({"first_is_birth_weight", "leave_out_bad_rows", "accept_doubtful"})


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """One answer to press: what the form then holds, its words, and what it would make of a cell."""

    name: str
    value: str
    words: str
    reads: str = ""


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """The first open question.

    Attributes:
        code: Of the manual.
        asked: What is open.
        why: Why it matters, and what to do.
        example: What the file holds of it; may be empty.
        choices: Answers to press; empty where something is typed or chosen.
        fields: Names of the fields to fill in; empty where an answer is pressed, and where only
            another file helps.
        more: How many questions are open behind this one.
    """

    code: str
    asked: str
    why: str
    example: str = ""
    choices: tuple[Choice, ...] = ()
    fields: tuple[str, ...] = ()
    more: int = 0


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """What was answered, in one line that opens."""

    bound: Any
    answer: str


def first_open(
    problems: Sequence[Problem], form: TableForm, preview: Preview | None
) -> Question | None:
    """The question to ask now: columns first, since what they mean decides what else is open."""
    if not problems:
        return None
    ordered = sorted(problems, key=lambda one: one.code not in OF_COLUMNS)
    first = ordered[0]
    behind = {FIELD_OF.get(one.code, one.code) for one in ordered}
    choices = tuple(_choices(first, form, preview))
    return Question(
        code=first.code,
        asked=in_words(first.what),
        why=" ".join(in_words(part) for part in (first.why, first.fix) if part),
        example=_example(first, preview),
        choices=choices,
        fields=() if choices else tuple(_fields(first, form, preview)),
        more=len(behind) - 1,
    )


def answered(form: TableForm, question: Question | None) -> list[Line]:
    """What is said so far, without what is asked now."""
    asked = _asked(question)
    lines = (Line(bound=bound, answer=_answer_text(bound)) for bound in form.conventions)
    return [line for line in lines if line.answer and line.bound.name not in asked | FLAGS]


def unsaid(form: TableForm, question: Question | None) -> list[BoundField]:
    """What may be said and need not be."""
    left_out = _asked(question) | {line.bound.name for line in answered(form, question)}
    return [bound for bound in form.conventions if bound.name not in left_out]


def mapped(form: TableForm, question: Question | None) -> list[BoundField]:
    """The columns that are not asked about now."""
    asked = _asked(question)
    return [bound for bound in form.mapping if bound.name not in asked]


def _asked(question: Question | None) -> set[str]:
    if question is None:
        return set()
    return {*question.fields, *(choice.name for choice in question.choices)}


def _answer_text(bound: BoundField) -> str:
    """The answer in words; '' where there is none."""
    value = bound.value()
    if value in {None, ""}:
        return ""
    choices = dict(getattr(bound.field, "choices", ()))
    return str(choices.get(value, value))


def _choices(problem: Problem, form: TableForm, preview: Preview | None) -> Iterator[Choice]:
    if problem.code == "CSV-037" and preview is not None:
        for column in preview.columns:
            if column.field == Field.VOLUME:
                for milk in MILKS:
                    value = f"{milk} {column.unit}".strip()
                    name = f"{COLUMN_PREFIX}{column.index}"
                    yield Choice(name=name, value=value, words=in_words(meaning(milk)))
        return
    name = FIELD_OF.get(problem.code, "")
    if name not in PRESSED:
        return
    for value, words in getattr(form.fields[name], "choices", ()):
        if value:
            reads = _read_so(problem, value) if name == "date_order" else ""
            yield Choice(name=name, value=value, words=str(words), reads=reads)


def _read_so(problem: Problem, order: Any) -> str:
    """The date that was asked about, as it would be read in that order."""
    held = dict(getattr(problem.what, "params", ()))
    text = str(held.get("text", ""))
    try:
        on = read_date(without_midnight(text)[0], order)
    except InputError:
        return ""
    return in_words(message("{day}", day=Day(on, year=True)))


def _fields(problem: Problem, form: TableForm, preview: Preview | None) -> Iterable[str]:
    if problem.code not in OF_COLUMNS:
        name = FIELD_OF.get(problem.code, "")
        return (name,) if name in form.fields else ()
    columns = preview.columns if preview is not None else form.columns
    meant = [column.field for column in columns]
    if problem.code == "CSV-022":
        wanted = [
            one for one in columns if one.field != Field.IGNORED and meant.count(one.field) > 1
        ]
    else:
        wanted = [one for one in columns if one.field == Field.IGNORED]
    return [f"{COLUMN_PREFIX}{one.index}" for one in wanted or columns]


def _example(problem: Problem, preview: Preview | None) -> str:
    """Some cells of the column that a question is about, with its name."""
    if preview is None:
        return ""
    for column in preview.columns:
        if column.field in HELD_BY.get(problem.code, ()):
            cells = (row.cells[column.index] for row in preview.rows)
            held = list(dict.fromkeys(cell for cell in cells if not is_missing(cell)))
            if held:
                shown = ", ".join(held[:EXAMPLES])
                return _("In the file: %(name)s %(cells)s") % {
                    "name": column.header,
                    "cells": shown,
                }
    return ""
