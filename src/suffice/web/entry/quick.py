"""A diaper by one tap, and taking it back."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID, uuid5

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from suffice.care.family.confirming import counts_now
from suffice.care.family.recording import record_entries, withdraw_entry
from suffice.clinical.entry import AnyFact, Basis, Entry, Record, Stool, Wet
from suffice.errors import InputError
from suffice.web.access import Act, family_of
from suffice.web.entry.confirmation import name_of, say_saved
from suffice.web.entry.going import go
from suffice.web.fields.instant import instant_sent
from suffice.web.fields.refused import say_refused
from suffice.web.fields.sent import sent_id
from suffice.web.shown.page import Request
from suffice.web.shown.wording import in_words

KEPT = timedelta(days=1)
"""How long a device keeps what could not be sent."""
FACTS: dict[str, tuple[AnyFact, ...]] = {
    "wet": (Wet(),),
    "stool": (Stool(),),
    "both": (Wet(), Stool()),
}


@require_POST
def quick(request: Request, family_id: UUID) -> HttpResponse:
    """Enter one wet diaper, one stool or both, now or at the time at which it was tapped."""
    record = family_of(request, family_id, Act.WRITE)
    entries = _entries(request, record)
    if not _are_there(record, entries):
        try:
            record_entries(family_id, entries, now=entries[0].entered_at)
        except InputError as refusal:
            # A second tap of the same button was faster.
            if not _are_there(family_of(request, family_id, Act.WRITE), entries):
                return _asked(request, family_id, refusal)
    say_saved(
        request, family_id, entries, sentence=_saved_line(request, record, entries), can_undo=True
    )
    return go(request, "family", family_id)


def _entries(request: Request, record: Record) -> list[Entry]:
    """The entries that were tapped; their ids follow from that of the button that was shown."""
    now = timezone.now()
    what = request.POST.get("what", "")
    infants = {str(one.id): one.id for one in record.infants}
    infant_id = infants.get(request.POST.get("infant", ""))
    if what not in FACTS or infant_id is None:
        raise BadRequest
    return [
        Entry(
            id=uuid5(sent_id(request, "key"), f"{what} {place}"),
            fact=fact,
            basis=Basis(fact.declared.basis),
            true_at=tapped_at(request, now),
            entered_at=now,
            entered_by=request.user.get_username(),
            infant_id=infant_id,
        )
        for place, fact in enumerate(FACTS[what])
    ]


def tapped_at(request: Request, now: datetime) -> datetime:
    """When it was tapped, where the device says so: a tap may have waited for the network."""
    try:
        tapped = instant_sent(request.POST.get("tapped", ""))
    except ValueError:
        return now
    return tapped if now - KEPT < tapped <= now else now


def _are_there(record: Record, entries: list[Entry]) -> bool:
    there = {one.id for one in record.entries}
    return all(one.id in there for one in entries)


def _asked(request: Request, family_id: UUID, refusal: InputError) -> HttpResponse:
    """What one tap cannot answer is asked in the form."""
    say_refused(request, refusal)
    kind = "stool" if request.POST.get("what") == "stool" else "wet"
    return go(request, "entry-new", family_id, kind)


def _saved_line(request: Request, record: Record, entries: list[Entry]) -> str:
    name = {"name": name_of(request, record, entries[0].infant_id)}
    if len(entries) > 1:
        return _("Saved: wet diaper and stool of %(name)s.") % name
    if isinstance(entries[0].fact, Wet):
        return _("Saved: wet diaper of %(name)s.") % name
    return _("Saved: stool of %(name)s.") % name


@require_POST
def undo(request: Request, family_id: UUID) -> HttpResponse:
    """Take back what was just tapped; it stays on the record, struck through."""
    record = family_of(request, family_id, Act.WRITE)
    asked = set(request.POST.getlist("entry"))
    name = request.user.get_username()
    own = [
        one
        for one in record.entries
        if str(one.id) in asked and one.entered_by == name and isinstance(one.fact, Wet | Stool)
    ]
    if not own:
        raise BadRequest
    now = timezone.now()
    replaced = {one.replaces for one in record.entries}
    for one in own:
        if one.id in replaced:
            continue
        withdraw_entry(
            family_id,
            one.id,
            withdrawal_id=uuid5(one.id, "undone"),
            reason=_("undone"),
            now=now,
            actor=name,
        )
    record = family_of(request, family_id, Act.WRITE)
    gone = _("Undone; it stays on the record, struck through.")
    counts = in_words(counts_now(record, own[0].infant_id, now=now, rules=request.clinic))
    messages.success(request, f"{gone} {counts}".strip())
    return go(request, "family", family_id)
