"""What is said once an entry is on the record: of whom, what, what follows, and how to take it back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from uuid import UUID

from django.contrib import messages
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext as _

from suffice.care.contact.visit import visit_of
from suffice.care.family.confirming import what_follows
from suffice.clinical.entry import Entry, Record, Sign
from suffice.clinical.entry.field import Dialled, fields_of
from suffice.language.terms import terms_of
from suffice.web.access import Act, family_of
from suffice.web.shown.doubts import doubts_in
from suffice.web.shown.fact import describe, kind_word
from suffice.web.shown.page import Request, wording_of
from suffice.web.shown.people import names_of
from suffice.web.shown.wording import in_words


def say_saved(
    request: Request,
    family_id: UUID,
    entries: Sequence[Entry],
    *,
    sentence: str = "",
    can_undo: bool = False,
) -> None:
    """Say on the next page that entries were saved.

    Args:
        request: Who saved them.
        family_id: The family.
        entries: What was saved at once, of one person.
        sentence: What to say instead of kind, name and value.
        can_undo: Whether one press takes them back.
    """
    record = family_of(request, family_id, Act.WRITE)
    last = entries[-1]
    text = render_to_string(
        "entry/saved.html",
        {
            "family_id": family_id,
            "said": sentence or _saved_line(request, record, last),
            "follows": in_words(
                what_follows(record, last, now=timezone.now(), rules=request.clinic)
            ),
            "entries": [{"id": one.id, "kind": kind_word(one.fact)} for one in entries],
            "can_undo": can_undo,
            "hand_over": _is_emergency(last),
            "about": last.infant_id or "parent",
        },
        request,
    )
    messages.success(request, text)
    for says in _doubtful(request, record, entries):
        messages.warning(request, says)


def _doubtful(request: Request, record: Record, entries: Sequence[Entry]) -> Iterator[str]:
    """What was saved and an answer of the contact in progress cannot both be."""
    visit = visit_of(record)
    if visit is None:
        return
    ids = {one.id for one in entries}
    for one in doubts_in(record, visit, request.clinic.content, timezone.now()):
        if not ids.isdisjoint(one.entry_ids):
            yield format_html('<a href="{}">{}</a>', one.link(record.family_id), one.says)


def name_of(request: Request, record: Record, infant_id: UUID | None) -> str:
    """What an infant is called, or the parent."""
    return names_of(record, timezone.now(), wording_of(request).policy)[infant_id]


def _is_emergency(entry: Entry) -> bool:
    """Whether it is a sign that is an emergency by itself: the next act is then to tell somebody."""
    fact = entry.fact
    if not isinstance(fact, Sign) or not fact.present:
        return False
    term = terms_of("signs").get(fact.sign)
    return term is not None and bool(term.get_help)


def _is_dialled(entry: Entry) -> bool:
    return any(isinstance(one, Dialled) for one in fields_of(type(entry.fact)).values())


def _saved_line(request: Request, record: Record, entry: Entry) -> str:
    filled = {
        "kind": kind_word(entry.fact),
        "name": name_of(request, record, entry.infant_id),
        # It is said on the next page, whichever that is: no list of families shows a number.
        "what": "" if _is_dialled(entry) else describe(entry.fact, wording_of(request)),
    }
    if not filled["what"]:
        return _("Saved: %(kind)s of %(name)s.") % filled
    return _("Saved: %(kind)s of %(name)s, %(what)s.") % filled
