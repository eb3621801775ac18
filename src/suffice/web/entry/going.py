"""Where a form leads when it has been taken: a redirect, or the address for the script that sent it.

A script that followed a redirect would fetch the page, and what it says once, for nobody.
"""

from __future__ import annotations

from typing import Any, Final

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from suffice.web.shown.page import Request

SENT_BY_SCRIPT: Final = "X-Kept-Form"
GO: Final = "X-Go"


def go(request: Request, name: str, *args: Any) -> HttpResponse:
    """Lead on to a page by its name."""
    if request.headers.get(SENT_BY_SCRIPT) != "yes":
        return redirect(name, *args)
    return HttpResponse(status=204, headers={GO: reverse(name, args=args)})
