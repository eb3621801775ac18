"""A table as it is read under what was answered so far, and what to ask next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from uuid import UUID

import msgspec
from django.forms.boundfield import BoundField
from django.utils import timezone

from suffice.care.clinic.access import NO_TEAM
from suffice.care.family.transfer import preview_table
from suffice.errors import InputError, Problem
from suffice.exchange.table.columns import Column, Field
from suffice.exchange.table.file import Progress, read_table
from suffice.exchange.table.importing import Preview, guessed
from suffice.exchange.table.options import CsvOptions
from suffice.web.access import Act, family_of, teams_to_choose
from suffice.web.shown.page import Request
from suffice.web.shown.people import names_of
from suffice.web.transfer.forms import TableForm
from suffice.web.transfer.questions import Line, Question, answered, first_open, mapped, unsaid


class Looked(msgspec.Struct, frozen=True, kw_only=True):
    """What the page shows.

    Attributes:
        form: What can be said, and what was.
        preview: The first rows; None where the file is no table yet.
        question: The first thing that is open; None where it can be imported.
        answered: What was said, one line each.
        mapped: What the columns mean, those asked about left out.
        unsaid: What may be said and need not be.
        unread: Names of the columns that are not read; nothing of them is stored.
    """

    form: TableForm
    preview: Preview | None
    question: Question | None
    answered: list[Line]
    mapped: list[BoundField]
    unsaid: list[BoundField]
    unread: list[str]


def look(
    request: Request,
    content: bytes,
    family_id: UUID | None,
    answers: Mapping[str, str] | None,
    source: str,
    progress: Progress,
) -> Looked:
    """Read a table as far as it can be read.

    Args:
        request: Who looks, in which clinic.
        content: The bytes of the file.
        family_id: The family it is about; None for a table of many infants.
        answers: What was answered; None at the first look.
        source: What the source is likely called.
        progress: Told how far the reading has come.
    """
    clinic, now = request.clinic, timezone.now()
    plain = CsvOptions(
        zone=clinic.policy.zone,
        entered_by=request.user.get_username(),
        entered_at=now,
        source=source,
        encoding=(answers or {}).get("encoding") or None,
        delimiter=(answers or {}).get("delimiter") or None,
    )

    teams = teams_to_choose(request) if family_id is None else []

    def form(columns: Sequence[Column]) -> TableForm:
        return TableForm(
            answers,
            policy=clinic.policy,
            content=clinic.content,
            columns=columns,
            infants=_infants(request, family_id),
            teams=teams,
            initial={"source": source},
        )

    try:
        table = read_table(
            content, encoding=plain.encoding, delimiter=plain.delimiter, progress=progress
        )
    except InputError as refusal:
        return _looked(form(()), None, refusal.problems)
    if answers is None:
        shown = preview_table(table, plain, family_id, access=request.access)
        is_asked = bool(teams) and not shown.families
        return _looked(form(shown.columns), shown, [*shown.questions, *([NO_TEAM] * is_asked)])
    bound = form(guessed(table))
    bound.is_valid()
    options = bound.options(actor=plain.entered_by, now=now)
    shown = preview_table(table, options, family_id, access=request.access)
    # Last: it is asked of who has a choice, once it is known that the table can be read.
    is_open = bool(teams) and not shown.families and not bound.cleaned_data.get("team")
    return _looked(bound, shown, [*shown.questions, *([NO_TEAM] if is_open else [])])


def _looked(form: TableForm, preview: Preview | None, problems: Sequence[Problem]) -> Looked:
    if preview is not None and preview.families:
        # Nothing new is opened, and nothing is called after its source.
        for name in ("team", "source"):
            form.fields.pop(name, None)
    question = first_open(problems, form, preview)
    if question is not None and question.fields:
        form.fields[question.fields[0]].widget.attrs["autofocus"] = True
        for name in question.fields:
            form.fields[name].widget.is_required = True  # it is asked, not 'if known'
    return Looked(
        form=form,
        preview=preview,
        question=question,
        answered=answered(form, question),
        mapped=mapped(form, question),
        unsaid=unsaid(form, question) if preview is not None else [],
        unread=[one.header for one in preview.columns if one.field == Field.IGNORED]
        if preview is not None
        else [],
    )


def _infants(request: Request, family_id: UUID | None) -> list[tuple[UUID, str]]:
    if family_id is None:
        return []
    record = family_of(request, family_id, Act.WRITE)
    names = names_of(record, timezone.now(), request.clinic.policy)
    return [(one.id, names[one.id]) for one in record.infants]
