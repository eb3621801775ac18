"""Keep a photograph of a latch, mark it, and see what it says; the picture itself, to who is signed in."""

from __future__ import annotations

from uuid import UUID, uuid4

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from suffice.assess.parameters import parameters_of
from suffice.care.contact.photograph import keep_photograph, mark_photograph
from suffice.care.contact.visit import Visit, visit_of
from suffice.care.photographs import sealed
from suffice.care.photographs.consent import agrees
from suffice.care.photographs.picture import MOST_BYTES, check_size
from suffice.clinical.entry import Entry, LatchPhotograph, Record, standing
from suffice.clinical.entry.latch_photograph import KeptPicture
from suffice.clinical.latch.mark import View, mark_problems
from suffice.errors import InputError, StorageError
from suffice.inference.latch.reading import Photographed
from suffice.web.access import Act, family_of
from suffice.web.fields.sent import infant_named, sent_id
from suffice.web.fields.spoken import words_of
from suffice.web.photograph.page import marks_of, places_shown, reading_shown
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of

BYTES_PER_MB = 1_000_000


@require_http_methods(["GET", "POST"])
def new_photograph(request: Request, family_id: UUID) -> HttpResponse:
    """Take or choose a photograph of the latch; refused where nobody agreed to photographs."""
    record = family_of(request, family_id, Act.WRITE)
    visit = visit_of(record)
    infant = infant_named(request, record)
    problems: list[str] = []
    if request.method == "POST":
        try:
            return _kept(request, record, visit, infant)
        except (InputError, StorageError) as refusal:
            problems = [words_of(one) for one in refusal.problems]
    names = names_of(record, timezone.now(), wording_of(request).policy)
    return page(
        request,
        "photograph/new.html",
        family_id=family_id,
        family_name=names[None],
        infants=[(one.id, names[one.id]) for one in record.infants],
        infant=infant,
        is_agreed=agrees(record, infant),
        is_in_contact=visit is not None,
        problems=problems,
        entry_id=uuid4(),
        most_mb=MOST_BYTES // BYTES_PER_MB,
        side=request.POST.get("side", ""),
        view=request.POST.get("view", ""),
        status=200,
    )


def _kept(
    request: Request, record: Record, visit: Visit | None, infant: UUID | None
) -> HttpResponse:
    sent = request.FILES.get("photo")
    if sent is not None:
        check_size(sent.size or 0)
    key = sent_id(request, "entry_id")
    side = request.POST.get("side", "")
    fact = LatchPhotograph(
        side=side if side in {"left", "right"} else None,  # type: ignore[arg-type]
        view=_view(request),
        contact_id=visit.id if visit else None,
    )
    keep_photograph(
        record,
        sent.read() if sent is not None else b"",
        fact,
        key=key,
        infant_id=infant,
        now=timezone.now(),
        actor=request.user.get_username(),
    )
    return redirect("photograph", record.family_id, key)


@require_http_methods(["GET", "POST"])
def photograph(request: Request, family_id: UUID, entry_id: UUID) -> HttpResponse:
    """A photograph with its marks and what they say; new marks take the place of those before."""
    act = Act.WRITE if request.method == "POST" else Act.READ
    record = family_of(request, family_id, act)
    entry, fact, picture = _found(record, entry_id)
    problems: list[str] = []
    if request.method == "POST":
        key = sent_id(request, "entry_id")
        try:
            mark_photograph(
                record,
                entry,
                marks_of(request.POST),
                view=_view(request),
                hidden=request.POST.get("hidden") == "yes",
                key=key,
                now=timezone.now(),
                actor=request.user.get_username(),
            )
        except InputError as refusal:
            problems = [words_of(one) for one in refusal.problems]
        else:
            return redirect("photograph", family_id, key)
    wording, parameters = wording_of(request), parameters_of(request.clinic.content)
    names = names_of(record, timezone.now(), wording.policy)
    is_read = not mark_problems(
        fact.marks, (picture.width_count, picture.height_count), parameters.mark_limits
    )
    mine = Photographed(fact.marks, fact.view, fact.hidden)
    return page(
        request,
        "photograph/photograph.html",
        family_id=family_id,
        family_name=names[None],
        whose=names.get(entry.infant_id, names[None]),
        entry=entry,
        fact=fact,
        picture=picture,
        is_kept=sealed.is_kept(family_id, picture.id) and agrees(record, entry.infant_id),
        is_current=any(one.id == entry.id for one in standing(record.entries)),
        when=wording.when(entry.true_at),
        problems=problems,
        places=places_shown(fact.marks, request.POST if problems else None),
        most_marks=round(parameters.mark_limits.most_marks_count.value),
        found=reading_shown([mine], parameters, wording) if is_read else None,
        entry_id=uuid4(),
        status=200,
    )


@require_safe
@never_cache
def picture(request: Request, family_id: UUID, entry_id: UUID) -> HttpResponse:
    """The picture itself, kept by no browser and no proxy; gone where nobody agrees any more."""
    record = family_of(request, family_id, Act.READ)
    entry, _fact, kept = _found(record, entry_id)
    if not agrees(record, entry.infant_id):
        raise Http404
    content = sealed.kept(family_id, kept.id, kept.digest)
    return HttpResponse(
        content,
        content_type="image/jpeg",
        headers={"Cache-Control": "private, no-store", "Content-Disposition": "inline"},
    )


def _found(record: Record, entry_id: UUID) -> tuple[Entry, LatchPhotograph, KeptPicture]:
    entry = next((one for one in record.entries if one.id == entry_id), None)
    if entry is None or not isinstance(entry.fact, LatchPhotograph) or entry.fact.picture is None:
        raise Http404
    return entry, entry.fact, entry.fact.picture


def _view(request: Request) -> View:
    return "side" if request.POST.get("view") == "side" else "unknown"
