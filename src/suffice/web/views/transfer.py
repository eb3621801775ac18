"""Families out as files, and in again."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from suffice.care.transfer import export_family
from suffice.web.views.page import page


@require_safe
def export(request: HttpRequest, family_id: UUID) -> HttpResponse:
    """A whole family as a JSON file; importing it elsewhere gives the same record."""
    del request
    response = HttpResponse(export_family(family_id), "application/json")
    response["Content-Disposition"] = f'attachment; filename="family-{family_id}.json"'
    response["Cache-Control"] = "no-store"
    return response


@require_safe
def import_file(request: HttpRequest) -> HttpResponse:
    return page(request, "import.html", "import")
