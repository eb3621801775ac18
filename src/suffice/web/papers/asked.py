"""Which paper is asked for: the address names the family, the person, the instant, the language, the sheet."""

from __future__ import annotations

from datetime import UTC
from typing import Final, get_args
from uuid import UUID

from django.http import Http404
from django.utils.translation import gettext as _

from suffice.care.clinic.people import full_names
from suffice.care.papers.making import Asked, folder_of
from suffice.documents.draft import drafts_of
from suffice.documents.folder import CITED, Folder, Offer
from suffice.knowledge.policy import Language, PaperSize
from suffice.web.access import Act, allowed
from suffice.web.family.given import PARENT
from suffice.web.fields.as_of import asked_as_of
from suffice.web.shown.page import Request, one_of, wording_of
from suffice.web.shown.wording import of_content

NAMES: Final = ("kind", "sheet", "note", "whose", "as_of", "language", "size", "sources")
"""What an address says of a paper."""
SOURCES: Final = "1"
"""Asks for a paper with its sources."""


def folder_asked(request: Request, family_id: UUID, act: Act = Act.READ) -> tuple[Asked, Folder]:
    """The papers of a family, as they are asked for, where whoever asks may do this with it."""
    asked = asked_of(request)
    return asked, folder_of(allowed(request, family_id, act), asked, request.clinic)


def asked_of(request: Request) -> Asked:
    """How papers are asked for: the instant, the language, the sheet, and who asks."""
    as_of, _when = asked_as_of(request)
    policy = request.clinic.policy
    drafts = (one for one, _name in drafts_of(request.GET.get("sheet", "")))
    offered = (*get_args(Language), *drafts)
    user, people = request.user.get_username(), full_names()
    return Asked(
        as_of=as_of,
        language=one_of(request.GET.get("language", ""), offered, policy.language),
        size=one_of(request.GET.get("size", ""), get_args(PaperSize), policy.paper_size),
        author=people.get(user, user),
        people=people,
        is_cited=request.GET.get("sources", "") == SOURCES,
    )


def offer_asked(request: Request, offers: list[Offer]) -> Offer | None:
    """The paper that is asked for, of whom it is asked for; without anybody the first of its kind."""
    kind, whose = request.GET.get("kind", ""), request.GET.get("whose", "")
    sheet, entry = request.GET.get("sheet", ""), request.GET.get("note", "")
    found = [one for one in offers if kind in {"", one.kind} and sheet in {"", one.sheet}]
    if sheet and not found:
        raise Http404
    if entry:
        found = [one for one in found if str(one.entry_id) == entry]
    if whose:
        found = [one for one in found if named(one.whose) == whose]
    if (whose or entry) and not found:
        raise Http404
    return found[0] if found else None


def named(whose: UUID | None) -> str:
    """Whom a paper is about, as an address says it."""
    return PARENT if whose is None else str(whose)


def query_of(asked: Asked, offer: Offer) -> dict[str, str]:
    """What makes the same paper again: no name, no finding."""
    return {
        "kind": offer.kind,
        **({"sheet": offer.sheet} if offer.sheet else {}),
        **({"note": str(offer.entry_id)} if offer.entry_id else {}),
        "whose": named(offer.whose),
        "as_of": asked.as_of.astimezone(UTC).isoformat().replace("+00:00", "Z"),
        "language": asked.language,
        "size": asked.size,
        **({"sources": SOURCES} if asked.is_cited and offer.kind in CITED else {}),
    }


def title_of(request: Request, offer: Offer, names: dict[UUID | None, str], folder: Folder) -> str:
    """What a paper is called in the list."""
    if offer.kind == "sheet":
        return of_content(folder.source.content.sheets[offer.sheet].title)
    if offer.kind == "note":
        return _("Consultation note")
    if offer.entry_id is not None:
        signed = next(one for one in folder.signed() if one.entry.id == offer.entry_id)
        at = {"at": wording_of(request).short_when(signed.entry.true_at)}
        if offer.kind == "amended":
            return _("Note signed %(at)s, with what was added") % at
        return _("Note signed %(at)s") % at
    if offer.kind == "discharge":
        return _("Discharge summary")
    titles = {
        "plan": _("Feeding plan for %(name)s"),
        "days": _("The first days of %(name)s"),
        "log": _("Log of a day for %(name)s"),
        "letter": _("Letter to a physician about %(name)s"),
    }
    return titles[offer.kind] % {"name": names[offer.whose]}
