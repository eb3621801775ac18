"""The application that the production server runs: the pages, and the guard in front of them."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user
from django.core.handlers.wsgi import WSGIRequest
from django.db import DatabaseError
from django.utils import translation
from django.utils.translation.trans_real import (
    get_supported_language_variant,
    parse_accept_lang_header,
)

from suffice.message import Message
from suffice.web.shown.wording import in_words
from suffice.web.site.guard import Guard
from suffice.web.site.wsgi import application as pages


def is_signed_in(environ: Mapping[str, Any]) -> bool:
    """Whether a request comes from somebody who has signed in.

    Where the database is away it is taken for so: the page that is asked for then says it.
    """
    request = WSGIRequest(dict(environ))
    sessions = import_module(settings.SESSION_ENGINE)
    request.session = sessions.SessionStore(request.COOKIES.get(settings.SESSION_COOKIE_NAME))
    try:
        return bool(get_user(request).is_authenticated)
    except DatabaseError:
        return True


def in_browsers_words(words: Message, accepted: str) -> str:
    """A message in the first of our languages that a browser accepts.

    Args:
        words: What is said.
        accepted: The Accept-Language of the request.
    """
    with translation.override(_language_of(accepted)):
        return in_words(words)


def _language_of(accepted: str) -> str:
    for name, _share in parse_accept_lang_header(accepted):
        try:
            return get_supported_language_variant(name)
        except LookupError:
            continue
    return settings.LANGUAGE_CODE


application = Guard(pages, is_signed_in, in_browsers_words)
