"""Where a form leads when it has been taken: a redirect, or the address for the script that sent it.

A script that followed a redirect would fetch the page, and what it says once, for nobody.
"""

from __future__ import annotations

from typing import Any, Final
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from suffice.web.shown.page import Request

SENT_BY_SCRIPT: Final = "X-Kept-Form"
GO: Final = "X-Go"
OPENED_BY: Final = "of"
"""What an address says of the page on which a form was opened."""
OPENED_FOR: Final = "for"
"""What it says of the infant whose page that was."""


def go(request: Request, name: str, *args: Any) -> HttpResponse:
    """Lead on to a page by its name."""
    return go_to(request, reverse(name, args=args))


def go_to(request: Request, address: str) -> HttpResponse:
    """Lead on to an address of ours."""
    if request.headers.get(SENT_BY_SCRIPT) != "yes":
        return redirect(address)
    return HttpResponse(status=204, headers={GO: address})


def go_back(request: Request, family_id: UUID) -> HttpResponse:
    """Lead on to where the form was opened, or to what is done after it; else to the family's page.

    A contact leads to its note, which can be signed from then on; the parent's day leads to the plan of the
    infant for whom it was opened.
    """
    opened_by = request.GET.get(OPENED_BY)
    if opened_by == "papers":
        return go_to(request, f"{reverse('papers', args=[family_id])}?kind=note")
    if opened_by == "plan":
        infant = "".join(request.GET.get(OPENED_FOR, "").split())
        about = f"?{urlencode({'infant': infant})}" if infant else ""
        return go_to(request, f"{reverse('plan', args=[family_id])}{about}")
    return go(request, opened_by if opened_by in {"contact", "milk"} else "family", family_id)
