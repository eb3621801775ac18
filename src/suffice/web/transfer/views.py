"""Families out as files, and in again; tables of weights, feeds and output with a preview."""

from __future__ import annotations

from http import HTTPStatus
from pathlib import Path
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from suffice.care import jobs, uploads
from suffice.care.family.transfer import export_family, import_family, preview_family
from suffice.errors import InputError
from suffice.web.access import Act, allowed, family_of, need, teams_to_choose
from suffice.web.fields.spoken import words_of
from suffice.web.shown.page import Request, page
from suffice.web.shown.people import names_of
from suffice.web.transfer import importing
from suffice.web.transfer.forms import FileForm, TeamForm, is_family_file
from suffice.web.transfer.looking import look
from suffice.web.transfer.page import family_file_page, import_page, problems_shown

SESSION_FILES = "files"
NO_ANSWERS = frozenset({"csrfmiddlewaretoken", "import", "look", "whole"})


@require_safe
def export(request: Request, family_id: UUID) -> HttpResponse:
    """A whole family as a JSON file; importing it elsewhere gives the same record."""
    content = export_family(allowed(request, family_id, Act.EXPORT))
    response = HttpResponse(content, "application/json")
    response["Content-Disposition"] = f'attachment; filename="family-{family_id}.json"'
    response["Cache-Control"] = "no-store"
    return response


def _kept(request: Request, form: FileForm) -> UUID | None:
    """The name under which the file waits; None, with the problem in the form, where it may not."""
    try:
        return uploads.keep(form.cleaned_data["file"], by=request.access.user_id)
    except InputError as refusal:
        form.add_error("file", " ".join(words_of(one) for one in refusal.problems))
        return None


@require_http_methods(["GET", "POST"])
def import_file(request: Request) -> HttpResponse:
    """Take a file; what it holds is shown before anything is stored."""
    need(request, Act.OPEN)
    if request.method == "POST":
        form = FileForm(request.POST, request.FILES)
        name = _kept(request, form) if form.is_valid() else None
        if name is not None:
            content, family = form.cleaned_data["file"], form.cleaned_data["family"]
            request.session[SESSION_FILES] = {
                **request.session.get(SESSION_FILES, {}),
                str(name): {"family": str(family or ""), "source": _stem(request)},
            }
            where = "import-family" if is_family_file(content) else "import-table"
            return _sent(request, where, name)
    else:
        form = FileForm(initial={"family": request.GET.get("family", "")})
    about = _called(request, _uuid(form["family"].value()))
    return page(request, "transfer/file.html", "import", form=form, about=about)


def _sent(request: Request, where: str, name: UUID) -> HttpResponse:
    """On to the look at a file; a page that sends it by itself is told where that is."""
    if request.headers.get("Accept") != "application/json":
        return redirect(where, name)
    reading = reverse("import-reading", args=[name])
    return JsonResponse({"next": reverse(where, args=[name]), "reading": reading})


@require_safe
def import_reading(request: Request, name: UUID) -> HttpResponse:
    """How much of a file that is being looked at was read; no content where none is."""
    _family_of(request, name)
    far = uploads.how_far(name)
    if far is None:
        return HttpResponse(status=HTTPStatus.NO_CONTENT)
    done, total = far
    return JsonResponse({"done": done, "total": total})


@require_http_methods(["GET", "POST"])
def import_family_file(request: Request, name: UUID) -> HttpResponse:
    """Show what a family file would add; put it on the record once that was confirmed."""
    family_id = _family_of(request, name)
    content = uploads.kept(name)
    if content is None:
        # Its answer may have been lost on the way: the page still says how the import ended.
        return redirect("import-progress", name)
    clinic, now = request.clinic, timezone.now()
    tried = request.method == "POST"
    shown, about, to_team = None, None, None
    if tried and "as_its_own" in request.POST:
        _as_its_own(request, name)
        family_id, tried = None, False
    try:
        preview = preview_family(content, now=now, access=request.access)
        shown = family_file_page(preview, clinic.policy)
        if family_id is not None and preview.record.family_id != family_id:
            about = _called(request, family_id)
            tried = tried and about is None
        if preview.is_new and (teams := teams_to_choose(request)):
            to_team = TeamForm(request.POST if tried else None, teams=teams)
        agreed = request.POST.get("confirmed", "") == preview.doubts_key or not preview.doubts
        is_said = to_team is None or to_team.is_valid()
        if tried and agreed and is_said and not preview.refused:
            return _import_family(request, name, content, to_team)
        problems = preview.refused or preview.doubts
    except InputError as refusal:
        problems = refusal.problems
    return page(
        request,
        "transfer/family.html",
        "import",
        file=shown,
        tried=tried,
        to_team=to_team,
        about=about,
        problems=problems_shown(problems),
        problems_count=len(problems),
        only_doubts=bool(problems) and all(one.doubtful for one in problems),
    )


def _import_family(
    request: Request, name: UUID, content: bytes, to_team: TeamForm | None
) -> HttpResponse:
    """Put the file on the record, say so, and go to the family.

    Raises:
        InputError: When the record has changed since it was looked at.
    """
    actor = request.user.get_username()
    done = import_family(
        content,
        now=timezone.now(),
        actor=actor,
        confirmed=True,
        access=request.access,
        team_id=UUID(to_team.cleaned_data["team"]) if to_team else None,
    )
    importing.end_of_family(name, done, by=actor)
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
    """Show how a table will be read, ask the first thing that is open, or import it."""
    family_id = _family_of(request, name)
    content = uploads.kept(name)
    if content is None:
        return redirect("import-progress", name)
    if request.method == "POST":
        _remember(request, name, request.POST)
    if jobs.is_under_way(name):
        return redirect("import-progress", name)
    about = request.session[SESSION_FILES][str(name)]
    with uploads.reading(name) as progress:
        looked = look(request, content, family_id, about.get("answered"), about["source"], progress)
    form, shown = looked.form, looked.preview
    if "import" in request.POST and looked.question is None and form.is_valid():
        options = form.options(actor=request.user.get_username(), now=timezone.now())
        importing.begin(
            name,
            content,
            options,
            family_id=family_id,
            team_id=form.team_id,
            access=request.access,
        )
        return redirect("import-progress", name)
    return page(
        request, "transfer/table.html", "import", form=form, preview=shown, looked=looked, name=name
    )


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


def _as_its_own(request: Request, name: UUID) -> None:
    """The file was sent from another family's page and is imported for the family it is of."""
    request.session[SESSION_FILES][str(name)]["family"] = ""
    request.session.modified = True


def _uuid(text: object) -> UUID | None:
    try:
        return UUID(str(text))
    except ValueError:
        return None


def _called(request: Request, family_id: UUID | None) -> tuple[UUID, str] | None:
    """A family with its name; None where there is none."""
    if family_id is None:
        return None
    try:
        record = family_of(request, family_id, Act.READ)
    except InputError:
        return None
    return family_id, names_of(record, timezone.now(), request.clinic.policy)[None]


def _family_of(request: Request, name: UUID) -> UUID | None:
    """The family a file is about; a file that this session did not send is not there."""
    need(request, Act.OPEN)
    files: dict[str, dict[str, str]] = request.session.get(SESSION_FILES, {})
    if str(name) not in files:
        raise Http404
    family = files[str(name)]["family"]
    return allowed(request, UUID(family), Act.WRITE) if family else None


def _stem(request: Request) -> str:
    """The name of the file that was sent, without its ending: what its source is likely called."""
    sent = request.FILES["file"]
    return Path(sent.name or "").stem[:60] if not isinstance(sent, list) else ""


def _remember(request: Request, name: UUID, sent: QueryDict) -> None:
    """Keep what was answered; what is sent without the rest of the form is added to it."""
    about = request.session[SESSION_FILES][str(name)]
    answers = {key: value for key, value in sent.dict().items() if key not in NO_ANSWERS}
    whole = "whole" in sent
    about["answered"] = answers if whole else {**about.get("answered", {}), **answers}
    request.session.modified = True
