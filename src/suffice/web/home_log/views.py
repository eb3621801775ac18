"""Type a log of a day back in, or have it read from a photograph; nothing is saved that was not looked over."""

from __future__ import annotations

from datetime import timedelta
from hashlib import sha256
from typing import Any, NamedTuple
from uuid import UUID, uuid4

import msgspec
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from suffice.care.home_log.entering import Placed, placed, save_log
from suffice.care.home_log.reading import Reading, read_picture
from suffice.care.photographs.picture import MOST_BYTES, accepted, check_size
from suffice.clinical.entry import Record
from suffice.errors import InputError
from suffice.web.access import Act, family_of
from suffice.web.entry.confirmation import say_saved
from suffice.web.entry.going import go
from suffice.web.family.reds import reds_now
from suffice.web.fields.sent import infant_asked
from suffice.web.fields.spoken import words_of
from suffice.web.home_log.forms import AMOUNTS, UNSURE, LogForm
from suffice.web.home_log.page import heads, rows_shown, summary_of
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of, to_choose

BYTES_PER_MB = 1_000_000


class State(NamedTuple):
    """How far a log is.

    Attributes:
        form: The grid as it was sent, or as it was read.
        is_read: Whether it was read from a photograph.
        reading: What was read just now.
        is_other: Whether the sheet names another infant.
        problems: Why nothing was read.
        entries: What will be saved; None while something is wrong or open.
        seen: Names what was looked over.
    """

    form: LogForm
    is_read: bool = False
    reading: Reading | None = None
    is_other: bool = False
    problems: tuple[str, ...] = ()
    entries: tuple[Placed, ...] | None = None
    seen: str = ""


@never_cache
@require_http_methods(["GET", "POST"])
def home_log(request: Request, family_id: UUID) -> HttpResponse:
    """The grid of a log: empty, read from a photograph, looked over, or saved."""
    record = family_of(request, family_id, Act.WRITE)
    alive = to_choose(record, timezone.now(), request.clinic.policy)
    infant = infant_asked(request, record, alive)
    step = request.POST.get("step", "")
    if request.method == "GET":
        return _shown(request, record, infant, State(_form(request)))
    if step == "read":
        return _shown(request, record, infant, _read(request, record, infant))
    is_read = request.POST.get("is_read") == "yes"
    form = _form(request, is_read=is_read)
    entries = _entries(request, form, infant)
    if entries is None:
        return _shown(request, record, infant, State(form, is_read))
    seen = _seen(entries)
    if step == "save" and request.POST.get("seen") == seen:
        if _saved(request, form, record, entries):
            return go(request, "family", family_id)
        # What was asked is answered on the grid, and saved by the same press.
        return _shown(request, record, infant, State(form, is_read, seen=seen))
    return _shown(request, record, infant, State(form, is_read, entries=entries, seen=seen))


def _entries(request: Request, form: LogForm, infant: UUID) -> tuple[Placed, ...] | None:
    """The entries of what was typed; None with what is wrong in the form."""
    if not form.is_valid():
        return None
    now, actor = timezone.now(), request.user.get_username()
    try:
        entries = placed(form.log(infant), now=now, actor=actor)
    except InputError as refusal:
        form.refuse(refusal)
        return None
    form.order = entries
    return entries


def _saved(request: Request, form: LogForm, record: Record, entries: tuple[Placed, ...]) -> bool:
    """Save them; False with problems and questions in the form."""
    now = timezone.now()
    entries = tuple(
        msgspec.structs.replace(one, entry=msgspec.structs.replace(one.entry, entered_at=now))
        for one in entries
    )
    try:
        save_log(record.family_id, entries, now=now)
    except InputError as refusal:
        form.refuse(refusal)
        if form.errors:
            return False
        save_log(record.family_id, entries, now=now, confirmed=True)
    text = ngettext(
        "The log is saved: %(n)s entry.", "The log is saved: %(n)s entries.", len(entries)
    ) % {"n": len(entries)}
    say_saved(request, record.family_id, [one.entry for one in entries], sentence=text)
    return True


def _read(request: Request, record: Record, infant: UUID) -> State:
    """The grid as it was read from a photograph; the photograph is gone with the answer."""
    sent = request.FILES.get("photo")
    try:
        if sent is not None:
            check_size(sent.size or 0)
        reading = read_picture(sent.read() if sent is not None else b"")
    except InputError as refusal:
        problems = tuple(words_of(one) for one in refusal.problems)
        return State(_form(request, is_new=True), problems=problems)
    named = next((one.id for one in record.infants if one.position == reading.position), None)
    form = _form(request, is_read=True, is_new=True, filled=_filled(reading))
    is_other = named is not None and named != infant
    return State(form, is_read=True, reading=reading, is_other=is_other)


def _filled(reading: Reading) -> dict[str, Any]:
    """What the fields hold of a sheet as it was read; a number stays open until somebody types it."""
    return {
        f"{one.name}-{one.row}": "1" if one.is_sure and one.name not in AMOUNTS else UNSURE
        for one in reading.boxes
    }


def _form(
    request: Request,
    *,
    is_read: bool = False,
    is_new: bool = False,
    filled: dict[str, Any] | None = None,
) -> LogForm:
    clinic = request.clinic
    today = wording_of(request).local(timezone.now()).date()
    initial = {
        "key": uuid4(),
        "on": (today - timedelta(days=1)).isoformat(),
        **(filled or {}),
    }
    return LogForm(
        request.POST if request.method == "POST" and not is_new else None,
        today=today,
        is_read=is_read,
        policy=clinic.policy,
        content=clinic.content,
        initial=initial,
    )


def _shown(request: Request, record: Record, infant: UUID, state: State) -> HttpResponse:
    wording, form = wording_of(request), state.form
    names = names_of(record, timezone.now(), wording.policy)
    ordered = to_choose(record, timezone.now(), wording.policy, infant)
    return page(
        request,
        "home_log/log.html",
        family_id=record.family_id,
        family_name=names[None],
        family={"id": record.family_id},
        reds=reds_now(request, record),
        whose=names[infant],
        infant=infant,
        infants=[(one.id, names[one.id]) for one in ordered],
        form=form,
        on=form["on"],
        whole=form["is_whole"],
        compared=form["compared"] if "compared" in form.fields else None,
        heads=heads(),
        rows=rows_shown(form, state.reading),
        is_read=state.is_read,
        is_other=state.is_other,
        problems=state.problems,
        summary=summary_of(state.entries, wording) if state.entries is not None else (),
        seen=state.seen,
        most_mb=MOST_BYTES // BYTES_PER_MB,
        accepted=accepted(),
        zone=wording.policy.zone,
    )


def _seen(entries: tuple[Placed, ...]) -> str:
    """Names what was looked over: other entries have to be looked over anew."""
    packed = [msgspec.json.encode((one.entry.id, one.entry.fact)) for one in entries]
    return sha256(b"\n".join(packed)).hexdigest()[:16]
