"""Families out as files, and in again; tables of weights, feeds and output with a preview."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from suffice.care import jobs, uploads
from suffice.care.family.asking import record_of
from suffice.care.family.transfer import export_family, import_family, preview_csv, preview_family
from suffice.errors import InputError
from suffice.exchange.table.importing import Preview
from suffice.exchange.table.options import CsvOptions
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of
from suffice.web.transfer import importing
from suffice.web.transfer.forms import FileForm, TableForm
from suffice.web.transfer.page import family_file_page, import_page, problems_shown

SESSION_FILES = "files"


@require_safe
def export(request: Request, family_id: UUID) -> HttpResponse:
    """A whole family as a JSON file; importing it elsewhere gives the same record."""
    del request
    response = HttpResponse(export_family(family_id), "application/json")
    response["Content-Disposition"] = f'attachment; filename="family-{family_id}.json"'
    response["Cache-Control"] = "no-store"
    return response


@require_http_methods(["GET", "POST"])
def import_file(request: Request) -> HttpResponse:
    """Take a file; what it holds is shown before anything is stored."""
    if request.method == "POST":
        form = FileForm(request.POST, request.FILES)
        if form.is_valid():
            content, family = form.cleaned_data["file"], form.cleaned_data["family"]
            name = uploads.keep(content)
            request.session[SESSION_FILES] = {
                **request.session.get(SESSION_FILES, {}),
                str(name): {"family": str(family or ""), "source": _stem(request)},
            }
            is_json = content.lstrip()[:1] in {b"{", b"["}
            return redirect("import-family" if is_json else "import-table", name)
    else:
        form = FileForm(initial={"family": request.GET.get("family", "")})
    return page(request, "transfer/file.html", "import", form=form)


@require_http_methods(["GET", "POST"])
def import_family_file(request: Request, name: UUID) -> HttpResponse:
    """Show what a family file would add; put it on the record once that was confirmed."""
    _family_of(request, name)
    content = uploads.kept(name)
    if content is None:
        # Its answer may have been lost on the way: the page still says how the import ended.
        return redirect("import-progress", name)
    clinic, now = request.clinic, timezone.now()
    tried = request.method == "POST"
    shown = None
    try:
        preview = preview_family(content, now=now)
        shown = family_file_page(preview, clinic.policy)
        agreed = request.POST.get("confirmed", "") == preview.doubts_key or not preview.doubts
        if tried and agreed and not preview.refused:
            return _import_family(request, name, content, now)
        problems = preview.refused or preview.doubts
    except InputError as refusal:
        problems = refusal.problems
    return page(
        request,
        "transfer/family.html",
        "import",
        file=shown,
        tried=tried,
        problems=problems_shown(problems),
        problems_count=len(problems),
        only_doubts=bool(problems) and all(one.doubtful for one in problems),
    )


def _import_family(request: Request, name: UUID, content: bytes, now: datetime) -> HttpResponse:
    """Put the file on the record, say so, and go to the family.

    Raises:
        InputError: When the record has changed since it was looked at.
    """
    done = import_family(content, now=now, confirmed=True)
    importing.end_of_family(name, done, by=request.user.get_username())
    count = len(done.appended.new)
    imported = ngettext("%(n)s entry imported.", "%(n)s entries imported.", count) % {"n": count}
    there = len(done.appended.already_there)
    if there:
        was = ngettext("%(n)s was there already.", "%(n)s were there already.", there)
        imported = f"{imported} {was % {'n': there}}"
    messages.success(request, imported)
    return redirect("family", done.family_id)


@require_http_methods(["GET", "POST"])
def import_table(request: Request, name: UUID) -> HttpResponse:
    """Show how a table will be read; look again with what was answered, or import it."""
    family_id = _family_of(request, name)
    content = uploads.kept(name)
    if content is None:
        return redirect("import-progress", name)
    sent = request.POST if request.method == "POST" else None
    if sent is not None:
        _remember(request, name, sent)
    if jobs.is_under_way(name):
        return redirect("import-progress", name)
    shown, form = _previewed(request, content, family_id, sent, _answers_so_far(request, name))
    if shown is not None and sent is not None and "import" in sent and form.is_valid():
        options = form.options(actor=request.user.get_username(), now=timezone.now())
        importing.begin(name, content, options, family_id)
        return redirect("import-progress", name)
    return page(request, "transfer/table.html", "import", form=form, preview=shown, name=name)


@require_safe
def import_progress(request: Request, name: UUID) -> HttpResponse:
    """How far an import is, and how it ended."""
    _family_of(request, name)
    seen = jobs.seen(name)
    if seen is None:
        raise Http404
    template = "transfer/state.html" if request.htmx else "transfer/progress.html"
    waits = uploads.waits(name)
    return page(request, template, "import", shown=import_page(seen), name=name, waits=waits)


@require_POST
def cancel_import(request: Request, name: UUID) -> HttpResponse:
    """Ask an import to stop; one that has arrived stays."""
    _family_of(request, name)
    jobs.cancel(name)
    return redirect("import-progress", name)


def _family_of(request: Request, name: UUID) -> UUID | None:
    """The family a file is about; a file that this session did not send is not there."""
    files: dict[str, dict[str, str]] = request.session.get(SESSION_FILES, {})
    if str(name) not in files:
        raise Http404
    family = files[str(name)]["family"]
    return UUID(family) if family else None


def _stem(request: Request) -> str:
    """The name of the file that was sent, without its ending: what its source is likely called."""
    sent = request.FILES["file"]
    return Path(sent.name or "").stem[:60] if not isinstance(sent, list) else ""


def _answers_so_far(request: Request, name: UUID) -> dict[str, str]:
    """What was answered about a file so far; at first only the likely name of its source."""
    files: dict[str, dict[str, Any]] = request.session.get(SESSION_FILES, {})
    about = files[str(name)]
    return {"source": about["source"], **about.get("answered", {})}


def _remember(request: Request, name: UUID, sent: QueryDict) -> None:
    """Keep what was answered, so that it stands there again when an import was refused."""
    answered = {key: value for key, value in sent.dict().items() if key != "csrfmiddlewaretoken"}
    request.session[SESSION_FILES][str(name)]["answered"] = answered
    request.session.modified = True


def _previewed(
    request: Request, content: bytes, family_id: UUID | None, sent: Any, answered: dict[str, str]
) -> tuple[Preview | None, TableForm]:
    """The preview under what was answered, and the form that says it."""
    wording, now = wording_of(request), timezone.now()
    actor = request.user.get_username()
    clinic = request.clinic
    plain = CsvOptions(
        zone=wording.policy.zone,
        entered_by=actor,
        entered_at=now,
        source=answered["source"],
        encoding=(sent or {}).get("encoding") or None,
        delimiter=(sent or {}).get("delimiter") or None,
    )
    infants: list[tuple[UUID, str]] = []
    if family_id:
        record = record_of(family_id)
        names = names_of(record, now, wording.policy)
        infants = [(one.id, names[one.id]) for one in record.infants]
    given: dict[str, Any] = {
        "policy": clinic.policy,
        "content": clinic.content,
        "infants": infants,
        "initial": answered,
    }
    try:
        first = preview_csv(content, plain, family_id)
    except InputError as refusal:
        form = TableForm(sent, columns=(), **given)
        form.is_valid()
        for problem in refusal.problems:
            form.add_error(None, str(problem)) if form.is_bound else None
        form.unreadable = problems_shown(refusal.problems)
        return None, form
    form = TableForm(sent, columns=first.columns, **given)
    if sent is None or not form.is_valid():
        return first, form
    return preview_csv(content, form.options(actor=actor, now=now), family_id), form
