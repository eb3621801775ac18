"""The Library: every clinical value with its source, its range and its dates; and the kit of a class."""

from __future__ import annotations

from typing import Final, get_args

import msgspec
from django.conf import settings
from django.http import Http404, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from suffice.documents.class_kit import ParentsClass, Which, class_paper
from suffice.documents.page import pdf_of
from suffice.knowledge.policy import Language, PaperSize
from suffice.web.library.page import library_page
from suffice.web.papers.views import LANGUAGES, SIZES
from suffice.web.shown.page import Request, one_of, page, wording_of
from suffice.web.shown.wording import of_content

PAPERS: Final = (("deck", _("Open the deck")), ("handout", _("Open the handout")))
"""The papers of a class, each with what its link says."""


@require_safe
def library(request: Request) -> HttpResponse:
    """All values, or those that hold the words looked for."""
    words = request.GET.get("q", "").strip()[:100]
    content = request.clinic.content
    today = timezone.now().astimezone(wording_of(request).zone).date()
    shown = library_page(content, today, words)
    return page(request, "library/library.html", "library", library=shown, words=words)


@require_safe
def class_kit(request: Request) -> HttpResponse:
    """The kit of a parents' class: language and sheet are chosen, and a link leads to each paper."""
    given = _class_asked(request)
    return page(
        request,
        "library/class_kit.html",
        "library",
        language=given.policy.language,
        size=given.size,
        languages=LANGUAGES,
        sizes=SIZES,
        papers=PAPERS,
        topics=[of_content(one.title) for one in given.sheets()],
    )


@require_safe
def class_file(request: Request, which: str) -> HttpResponse:
    """The deck or the handout as its file."""
    if which not in get_args(Which):
        raise Http404
    given = _class_asked(request)
    paper = class_paper(given, which)  # type: ignore[arg-type]  # one of the two, as just checked
    response = HttpResponse(pdf_of(paper, settings.HOME), "application/pdf")
    name = f"class-{which}-{given.policy.language}.pdf"
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["Cache-Control"] = "no-store"
    return response


def _class_asked(request: Request) -> ParentsClass:
    """The class in the language and on the sheet that are asked for, else in those of the clinic."""
    policy, sent = request.clinic.policy, request.GET
    language = one_of(sent.get("language", ""), get_args(Language), policy.language)
    return ParentsClass(
        content=request.clinic.content,
        policy=msgspec.structs.replace(policy, language=language),
        size=one_of(sent.get("size", ""), get_args(PaperSize), policy.paper_size),
        made_at=timezone.now(),
    )
