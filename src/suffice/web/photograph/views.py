"""Keep a photograph of a latch, mark it, and see what it says; the picture itself, to who is signed in."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID, uuid4

import msgspec
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from suffice.assess.parameters import parameters_of
from suffice.care.contact.one_latch import (
    Photo,
    could_be_first,
    may_have_second,
    of_one_latch,
    second_of,
    standing_photos,
)
from suffice.care.contact.photograph import keep_photograph, mark_photograph
from suffice.care.contact.visit import Visit, visit_of
from suffice.care.photographs import heic, sealed
from suffice.care.photographs.consent import agrees
from suffice.care.photographs.picture import MOST_BYTES, accepted, check_size
from suffice.clinical.entry import ContactStart, LatchPhotograph, Record
from suffice.clinical.latch.mark import View
from suffice.errors import InputError, StorageError
from suffice.web.access import Act, family_of
from suffice.web.entry.going import go
from suffice.web.entry.quick import tapped_at
from suffice.web.family.reds import reds_now
from suffice.web.fields.sent import infant_named, sent_id
from suffice.web.fields.spoken import words_of
from suffice.web.photograph.page import marks_of, places_shown, readings_shown
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of, to_choose

BYTES_PER_MB = 1_000_000
REFUSED = "X-Refused"
"""Says to the script that keeps a photograph on the device why the server will never take it."""


@require_http_methods(["GET", "POST"])
def new_photograph(request: Request, family_id: UUID) -> HttpResponse:
    """Take or choose a photograph of the latch; refused where nobody agreed to photographs."""
    record = family_of(request, family_id, Act.WRITE)
    visit = visit_of(record)
    first = _first(request, record)
    alive = to_choose(record, timezone.now(), request.clinic.policy)
    infant = first.entry.infant_id if first else infant_named(request, record, alive)
    problems: list[str] = []
    refused_for = ""
    if request.method == "POST":
        try:
            return _kept(request, record, visit, first, infant)
        except (InputError, StorageError) as refusal:
            problems = [words_of(one) for one in refusal.problems]
            refused_for = refusal.problems[0].code if isinstance(refusal, InputError) else ""
    names = names_of(record, timezone.now(), wording_of(request).policy)
    answer = page(
        request,
        "photograph/new.html",
        family_id=family_id,
        family_name=names[None],
        family={"id": family_id},
        reds=reds_now(request, record),
        infants=[
            (one.id, names[one.id])
            for one in to_choose(record, timezone.now(), request.clinic.policy, infant)
        ],
        infant=infant,
        first=first,
        first_at=wording_of(request).when(first.entry.true_at) if first else "",
        is_agreed=agrees(record, infant),
        contact_id=visit.id if visit else "",
        problems=problems,
        entry_id=uuid4(),
        most_mb=MOST_BYTES // BYTES_PER_MB,
        most_bytes=str(MOST_BYTES),
        takes_heic=heic.can_read(),
        accepted=accepted(),
        side=request.POST.get("side", ""),
        view=request.POST.get("view", ""),
        status=200,
    )
    if refused_for:
        answer[REFUSED] = refused_for
    return answer


def _first(request: Request, record: Record) -> Photo | None:
    """The photograph of the same latch that a second one goes with; None: this is another latch.

    Raises:
        Http404: The family has no such photograph.
    """
    named = request.POST.get("first") or request.GET.get("first", "")
    if not named:
        return None
    found = next((one for one in standing_photos(record) if str(one.picture.id) == named), None)
    if found is None:
        raise Http404
    return found


def _kept(
    request: Request,
    record: Record,
    visit: Visit | None,
    first: Photo | None,
    infant: UUID | None,
) -> HttpResponse:
    now = timezone.now()
    sent = request.FILES.get("photo")
    if sent is not None:
        check_size(sent.size or 0)
    key = sent_id(request, "entry_id")
    if any(one.id == key for one in record.entries):
        return go(request, "photograph", record.family_id, key)
    contact_id = _contact(request, record, visit)
    if first:
        fact = second_of(record, first, contact_id, view=_view(request))
    else:
        side = request.POST.get("side", "")
        fact = LatchPhotograph(
            side=side if side in {"left", "right"} else None,  # type: ignore[arg-type]
            view=_view(request),
            contact_id=contact_id,
        )
    keep_photograph(
        record,
        sent.read() if sent is not None else b"",
        fact,
        key=key,
        infant_id=infant,
        taken_at=tapped_at(request, now),
        now=now,
        actor=request.user.get_username(),
    )
    return go(request, "photograph", record.family_id, key)


def _contact(request: Request, record: Record, visit: Visit | None) -> UUID | None:
    """The contact in which it was taken: as the page knew it, since a device may send it hours later."""
    named = request.POST.get("contact", "")
    started = {str(one.id): one.id for one in record.entries if isinstance(one.fact, ContactStart)}
    return started.get(named) or (visit.id if visit else None)


@require_http_methods(["GET", "POST"])
def photograph(request: Request, family_id: UUID, entry_id: UUID) -> HttpResponse:
    """A photograph with its marks and what they say; new marks take the place of those before."""
    act = Act.WRITE if request.method == "POST" else Act.READ
    record = family_of(request, family_id, act)
    photo = _found(record, entry_id)
    problems: list[str] = []
    if request.method == "POST":
        key = sent_id(request, "entry_id")
        try:
            _mark(request, record, photo, key)
        except InputError as refusal:
            problems = [words_of(one) for one in refusal.problems]
        else:
            return redirect("photograph", family_id, key)
    return _shown(request, record, photo, problems)


def _mark(request: Request, record: Record, photo: Photo, key: UUID) -> None:
    first = could_be_first(record, photo)
    is_same = first is not None and request.POST.get("same") == str(first.fact.latch)
    marked = msgspec.structs.replace(
        photo.fact,
        marks=marks_of(request.POST),
        view=_view(request),
        hidden=request.POST.get("hidden") == "yes",
        same_latch=first.fact.latch if first and is_same else None,
    )
    mark_photograph(
        record,
        photo.entry,
        marked,
        key=key,
        now=timezone.now(),
        actor=request.user.get_username(),
    )


def _shown(request: Request, record: Record, photo: Photo, problems: Sequence[str]) -> HttpResponse:
    wording, parameters = wording_of(request), parameters_of(request.clinic.content)
    names = names_of(record, timezone.now(), wording.policy)
    visit = visit_of(record)
    entry, fact, kept = photo
    is_current = photo in standing_photos(record)
    together = of_one_latch(record, photo)
    first = could_be_first(record, photo) if is_current else None
    other = next((one for one in together if one != photo), None)
    can_add = is_current and may_have_second(record, photo, visit.id if visit else None)
    return page(
        request,
        "photograph/photograph.html",
        family_id=record.family_id,
        family_name=names[None],
        whose=names.get(entry.infant_id, names[None]),
        family={"id": record.family_id},
        reds=reds_now(request, record),
        entry=entry,
        fact=fact,
        picture=kept,
        is_kept=sealed.is_kept(record.family_id, kept.id) and agrees(record, entry.infant_id),
        is_current=is_current,
        when=wording.when(entry.true_at),
        problems=problems,
        places=places_shown(fact.marks, request.POST if problems else None),
        most_marks=round(parameters.mark_limits.most_marks_count.value),
        readings=readings_shown(photo, together, parameters, wording, can_add=can_add),
        other=other,
        other_at=wording.when(other.entry.true_at) if other else "",
        can_add=can_add,
        first=first,
        first_at=wording.when(first.entry.true_at) if first else "",
        is_same=first is not None and first.fact.latch == fact.latch,
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


def _found(record: Record, entry_id: UUID) -> Photo:
    entry = next((one for one in record.entries if one.id == entry_id), None)
    if entry is None or not isinstance(entry.fact, LatchPhotograph) or entry.fact.picture is None:
        raise Http404
    return Photo(entry, entry.fact, entry.fact.picture)


def _view(request: Request) -> View:
    return "side" if request.POST.get("view") == "side" else "unknown"
