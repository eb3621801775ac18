"""What is done to every text of a page where it leaves: its amounts are kept whole, and read one way.

No line ends between a number and its unit: not '24' here and 'h' below. And no sign that turns the direction
of reading is left, which somebody may have typed or brought in a file with a name: behind one a browser shows 3410 as 0143.

Sentences of a page come from messages, from templates and from what somebody wrote, so it is done once, where
the page leaves. A shell, a table and JSON keep plain spaces: they are read by programs too.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

from django.http import HttpRequest, HttpResponse

from suffice.language.amounts import kept_together

Next = Callable[[HttpRequest], HttpResponse]

_LEFT: Final = r"<(script|style|textarea|option|title|pre|code)\b.*?</\1\s*>|<!--.*?-->"
"""What stays as it is: what is run, what is sent back, what is copied."""
_TEXT: Final = re.compile(rf"{_LEFT}|<[^>]*>|(?P<text>[^<]+)", re.DOTALL | re.IGNORECASE)
"""A piece that is left, a tag with its attributes, or a text: each is read once, however long it is."""


_TURNS: Final = re.compile("[\u202a-\u202e\u2066-\u2069]")
"""Embeddings, overrides and isolates of Unicode (UAX 9). Letters that are read from the right need none."""


def together(html: str) -> str:
    """A page, or a part of one, with each number beside its unit and its digits in their order."""
    return _TEXT.sub(_bound, html)


def _bound(found: re.Match[str]) -> str:
    text = found["text"]
    if text is None or text.isspace():  # most of a page is tags, and the space between them
        return found[0]
    return kept_together(_TURNS.sub("", text))


class TogetherMiddleware:
    """Keeps number and unit together in whatever text a page shows."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; a file and what is sent piece by piece stay as they are."""
        response = self.get_response(request)
        if response.streaming or not response.get("Content-Type", "").startswith("text/html"):
            return response
        response.content = together(response.content.decode(response.charset))
        if response.has_header("Content-Length"):
            response["Content-Length"] = str(len(response.content))
        return response
