"""The Library: every clinical value with its source, its range and its dates."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from suffice.web.library.page import library_page
from suffice.web.shown.page import Request, page, wording_of


@require_safe
def library(request: Request) -> HttpResponse:
    """All values, or those that hold the words looked for."""
    words = request.GET.get("q", "").strip()[:100]
    content = request.clinic.content
    today = timezone.now().astimezone(wording_of(request).zone).date()
    shown = library_page(content, today, words)
    return page(request, "library/library.html", "library", library=shown, words=words)
