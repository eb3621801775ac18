"""What can be done about the paper that is shown: sign it, amend it, put down that it was given."""

from __future__ import annotations

from typing import Final
from uuid import UUID, uuid4

import msgspec
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from suffice.care.papers.giving import give, given_papers, is_the_same
from suffice.care.papers.signing import Signing, amend, sign
from suffice.clinical.entry import Amendment
from suffice.documents.draft import is_draft
from suffice.documents.folder import CITED, Folder, Offer
from suffice.documents.kept import digest_of, file_digest_of
from suffice.documents.page import Paper
from suffice.documents.signed_note import change_words
from suffice.errors import InputError
from suffice.web.access import Act, allowed, family_of
from suffice.web.entry.going import go_to
from suffice.web.fields.refused import say_refused
from suffice.web.fields.sent import sent_id
from suffice.web.papers.asked import folder_asked, offer_asked
from suffice.web.shown.page import Request, wording_of
from suffice.web.shown.wording import in_words

LONGEST_CHARACTERS: Final = 5_000
"""Of an amendment."""
FOR_THE_FILE: Final = frozenset({"note", "signed", "amended"})
"""Papers that are not handed to a family from here."""


class AmendmentShown(msgspec.Struct, frozen=True, kw_only=True):
    """What was added to a signed note, and who signed it when."""

    by: str
    at: str
    text: str


class SignedShown(msgspec.Struct, frozen=True, kw_only=True):
    """A signed note on the page: who signed it, what it was made from, what came after it.

    `is_same_file` says whether the file is to the byte that of the day on which it was signed.
    """

    id: UUID
    by: str
    at: str
    made_from: str
    digest: str
    is_same_file: bool
    amendments: tuple[AmendmentShown, ...]
    changed: tuple[str, ...]


class ActsShown(msgspec.Struct, frozen=True, kw_only=True):
    """What can be done about the paper that is shown.

    Attributes:
        key: Id of the entry that the next press makes.
        seen: Digest of the note that is shown; empty where it cannot be signed.
        in_progress: Whether its contact is still in progress.
        signed: The signed note that is shown.
        can_give: Whether it can be put down that it was given.
        given: When it was given, where the page was asked for by that.
        is_as_given: Whether it still has the words that were given.
    """

    key: UUID
    seen: str
    in_progress: bool
    signed: SignedShown | None
    can_give: bool
    given: str
    is_as_given: bool


def acts_shown(
    request: Request, folder: Folder, offer: Offer, paper: Paper, pdf: bytes
) -> ActsShown:
    """What can be done about one paper.

    Args:
        request: Who asks, and whether for a paper that was given.
        folder: The papers of the family.
        offer: The paper.
        paper: The same, made.
        pdf: Its file.
    """
    is_note = offer.kind == "note" and folder.contact is not None
    is_over = folder.contact is not None and folder.contact.end is not None
    given, same = _given(request, folder, offer)
    return ActsShown(
        key=uuid4(),
        seen=digest_of(paper) if is_note and is_over else "",
        in_progress=is_note and not is_over,
        signed=_signed(request, folder, offer, pdf),
        can_give=_can_be_given(folder, offer, paper.language),
        given=given,
        is_as_given=same,
    )


def _can_be_given(folder: Folder, offer: Offer, language: str) -> bool:
    """Whether it can be put down as given: no paper for the file, no draft, none with its sources."""
    is_cited = folder.is_cited and offer.kind in CITED
    return offer.kind not in FOR_THE_FILE and not is_draft(language) and not is_cited


def _given(request: Request, folder: Folder, offer: Offer) -> tuple[str, bool]:
    asked = request.GET.get("given", "")
    if not asked:
        return "", False
    # It was given after the instant that the paper is about.
    for one in given_papers(family_of(request, folder.record.family_id, Act.READ)):
        if str(one.entry.id) == asked and one.fact.origin is not None:
            at = wording_of(request).when(one.entry.true_at)
            return at, is_the_same(folder, offer, one.fact.origin)
    raise Http404


def _signed(request: Request, folder: Folder, offer: Offer, pdf: bytes) -> SignedShown | None:
    if offer.entry_id is None:
        return None
    wording, people = wording_of(request), folder.source.people
    one = next(each for each in folder.signed() if each.entry.id == offer.entry_id)
    origin = one.fact.origin
    amendments = tuple(
        AmendmentShown(
            by=people.get(each.entered_by, each.entered_by),
            at=wording.when(each.entered_at),
            text=each.fact.text,
        )
        for each in one.later.amendments
        if isinstance(each.fact, Amendment)
    )
    return SignedShown(
        id=one.entry.id,
        by=people.get(one.entry.entered_by, one.entry.entered_by),
        at=wording.when(one.entry.true_at),
        made_from=""
        if origin is None
        else _("as of %(at)s; content %(content)s, engine %(engine)s, template %(template)s")
        % {
            "at": wording.when(origin.as_of),
            "content": origin.content_version,
            "engine": origin.engine_version or _("not asked"),
            "template": origin.template_version,
        },
        digest="" if origin is None else origin.digest,
        is_same_file=offer.kind == "amended"
        or (origin is not None and origin.file_digest == file_digest_of(pdf)),
        amendments=amendments,
        changed=tuple(in_words(change_words(each, people)) for each in one.later.changed),
    )


@require_POST
def sign_note(request: Request, family_id: UUID) -> HttpResponse:
    """Sign the note that was shown."""
    asked, _folder = folder_asked(request, family_id, Act.WRITE)
    signing = Signing(
        asked=asked,
        seen=request.POST.get("seen", ""),
        now=timezone.now(),
        actor=request.user.get_username(),
    )
    try:
        key = sign(family_id, signing, request.clinic, settings.HOME)
    except InputError as refusal:
        say_refused(request, refusal)
        return go_to(request, _papers(family_id, "kind=note"))
    messages.success(request, _("Signed. The note does not change any more."))
    return go_to(request, _papers(family_id, f"kind=signed&note={key}"))


@require_POST
def amend_note(request: Request, family_id: UUID) -> HttpResponse:
    """Add an amendment to a signed note."""
    allowed(request, family_id, Act.WRITE)
    note_id, text = sent_id(request, "note"), request.POST.get("text", "")
    if len(text) > LONGEST_CHARACTERS:
        raise BadRequest
    now, actor = timezone.now(), request.user.get_username()
    try:
        amend(family_id, note_id, text, key=sent_id(request, "key"), now=now, actor=actor)
    except InputError as refusal:
        say_refused(request, refusal)
        return go_to(request, _papers(family_id, f"kind=signed&note={note_id}"))
    messages.success(request, _("The amendment is added; the note stays as it was signed."))
    return go_to(request, _papers(family_id, f"kind=amended&note={note_id}"))


@require_POST
def give_paper(request: Request, family_id: UUID) -> HttpResponse:
    """Put down that the paper that was shown was given."""
    asked, folder = folder_asked(request, family_id, Act.WRITE)
    offer = offer_asked(request, list(folder.offers()))
    if offer is None or not _can_be_given(folder, offer, asked.language):
        raise Http404
    now, actor = timezone.now(), request.user.get_username()
    give(folder, offer, settings.HOME, key=sent_id(request, "key"), now=now, actor=actor)
    messages.success(request, _("Put down as given. The family's page lists it."))
    return go_to(request, _papers(family_id, request.GET.urlencode()))


def _papers(family_id: UUID, query: str) -> str:
    return f"{reverse('papers', args=[family_id])}?{query}"
