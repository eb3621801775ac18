"""The short help: what the program is for, and where to begin."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_safe

from suffice.assess.results import Tier
from suffice.web.shown.mark import tier_mark
from suffice.web.shown.page import Request, page


@require_safe
def help_page(request: Request) -> HttpResponse:
    """One page, in the order of a day's work."""
    return page(request, "help/help.html", "help", tiers=[tier_mark(one) for one in Tier])
