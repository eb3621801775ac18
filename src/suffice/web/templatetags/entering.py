"""Template tags of the forms."""

from __future__ import annotations

import re
from uuid import uuid4

from django import template

register = template.Library()


@register.simple_tag
def fresh_id() -> str:
    """An id under which what a form sends is stored once, however often it is sent."""
    return str(uuid4())


@register.filter
def clock_time(moment: str | None) -> str:
    """The time of day of what a field for date and time holds."""
    found = re.search(r"\d{1,2}:\d{2}", moment or "")
    return found[0] if found else ""
