"""The instant that a page is asked for."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from django.utils import timezone

from suffice.exchange.local_time import read_local
from suffice.web.fields.moment import LocalInput
from suffice.web.shown.page import Request, wording_of


def asked_as_of(request: Request) -> tuple[datetime, Literal["now", "past", "future"]]:
    """The instant that is answered for, and where the one that is asked for lies.

    Nothing is known of the future: who asks for it is answered for now.

    An instant ends in Z; anything else is a time on the clinic's clock, in its order of dates.
    """
    now = timezone.now()
    text = request.GET.get("as_of", "").strip()
    if not text:
        return now, "now"
    asked = _instant(text) if text.endswith("Z") else None
    if asked is None:
        policy = wording_of(request).policy
        typed = LocalInput(has_time=True).value_from_datadict(request.GET, {}, "as_of")
        asked = read_local(typed, policy.zone, policy.date_order).instants[0]
    return (asked, "past") if asked < now else (now, "future")


def _instant(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None
