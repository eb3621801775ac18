"""The papers of a family: a list, each as it will be printed, and its file."""

from __future__ import annotations

from typing import Final, NamedTuple
from urllib.parse import urlencode
from uuid import UUID

from django.conf import settings
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from suffice.documents.draft import drafts_of
from suffice.documents.folder import CITED, Folder, Offer
from suffice.documents.page import Paper, page_count, pdf_of, pictures_of
from suffice.knowledge.sheet import fights
from suffice.web.entry.going import go_to
from suffice.web.family.reds import reds_now
from suffice.web.fields.sent import number_sent
from suffice.web.papers.acts import acts_shown
from suffice.web.papers.asked import folder_asked, named, offer_asked, query_of, title_of
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of
from suffice.web.shown.wording import of_content

PICTURE_PPI: Final = 110.0
"""Points per inch of a preview: sharp on a screen of usual width."""
LANGUAGES: Final = (("en", "English"), ("es", "Español"))
SIZES: Final = (("A4", "A4"), ("letter", "US Letter"))


class Listed(NamedTuple):
    """A paper in the list; `is_shown` for the one that the page shows."""

    title: str
    link: str
    is_asked_for: bool
    is_shown: bool
    offer: Offer
    not_beside: tuple[str, ...]


@require_safe
def papers(request: Request, family_id: UUID) -> HttpResponse:
    """The papers of a family, and one of them as it will be printed."""
    asked, folder = folder_asked(request, family_id)
    offers = list(folder.offers())
    died = [one for one in folder.source.assessment.infants if one.died]
    shown = (None if _is_of_died(request, folder) else offer_asked(request, offers)) or offers[0]
    paper = folder.paper(shown)
    query = query_of(asked, shown)
    pdf = pdf_of(paper, settings.HOME)
    names = names_of(folder.record, asked.as_of, request.clinic.policy)
    listed = [
        Listed(
            title_of(request, one, names, folder),
            f"?{urlencode(query_of(asked, one))}",
            one.is_asked_for,
            one == shown,
            one,
            _not_beside(one, offers, folder),
        )
        for one in offers
    ]
    file = reverse("paper", args=[family_id, shown.kind])
    return page(
        request,
        "papers/papers.html",
        family={"id": family_id, "name": names[None]},
        reds=reds_now(request, folder.record),
        title=paper.title,
        none_made=[names[one.infant_id] for one in died],
        query=urlencode(query),
        acts=acts_shown(request, folder, shown, paper, pdf),
        listed=[one for one in listed if one.offer.kind != "sheet"],
        sheets=[one for one in listed if one.offer.is_wanted],
        more_sheets=[
            one for one in listed if one.offer.kind == "sheet" and not one.offer.is_wanted
        ],
        more_open=shown.kind == "sheet" and not shown.is_wanted,
        pictures=[
            f"{file}?{urlencode({**query, 'page': str(n + 1)})}" for n in range(page_count(pdf))
        ],
        file=f"{file}?{urlencode(query)}",
        download=f"{file}?{urlencode({**query, 'download': '1'})}",
        asked=asked,
        as_of=query["as_of"],
        whose=named(shown.whose),
        kind=shown.kind,
        sheet=shown.sheet,
        note=shown.entry_id,
        can_be_cited=shown.kind in CITED,
        languages=(*LANGUAGES, *drafts_of(shown.sheet)),
        sizes=SIZES,
    )


@require_safe
def paper(request: Request, family_id: UUID, kind: str) -> HttpResponse:
    """One paper as its file, or one of its pages as a picture."""
    asked, folder = folder_asked(request, family_id)
    if _is_of_died(request, folder):
        # An address that was kept, or printed: the page says why there is no such paper any more.
        return go_to(request, f"{reverse('papers', args=[family_id])}?whose={request.GET['whose']}")
    shown = offer_asked(request, [one for one in folder.offers() if one.kind == kind])
    if shown is None:
        raise Http404
    made = folder.paper(shown)
    number = request.GET.get("page", "")
    if number:
        response = _picture(made, number)
    else:
        response = HttpResponse(pdf_of(made, settings.HOME), "application/pdf")
        how = "attachment" if request.GET.get("download") == "1" else "inline"
        # The name of a file is seen by whoever handles it: it says what, not whose.
        name = f"{kind}-{wording_of(request).local(asked.as_of):%Y%m%d-%H%M}.pdf"
        response["Content-Disposition"] = f'{how}; filename="{name}"'
    response["Cache-Control"] = "no-store"
    return response


def _is_of_died(request: Request, folder: Folder) -> bool:
    """Whether a paper about an infant that has died is asked for: none is made."""
    infants = folder.source.assessment.infants
    return request.GET.get("whose", "") in {str(one.infant_id) for one in infants if one.died}


def _picture(made: Paper, number: str) -> HttpResponse:
    pictures = pictures_of(made, settings.HOME, ppi=PICTURE_PPI)
    if not (place := number_sent(number, len(pictures))):
        raise Http404
    return HttpResponse(pictures[place - 1], "image/png")


def _not_beside(offer: Offer, offers: list[Offer], folder: Folder) -> tuple[str, ...]:
    """Titles of the other sheets of the list that a sheet is not handed out beside."""
    sheets = folder.source.content.sheets
    return tuple(
        of_content(sheets[one.sheet].title)
        for one in offers
        if offer.sheet and one.sheet and fights(offer.sheet, one.sheet, sheets)
    )
