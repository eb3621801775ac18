"""Columns fetched as text and turned into values here: several times faster for whole records.

Django's own converters of instants and UUIDs are made for a few rows; a caseload has thousands.
Either engine casts an instant to ISO text in UTC and a UUID to its digits.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from functools import lru_cache
from uuid import UUID

import msgspec
from django.db.models import TextField
from django.db.models.functions import Cast


def as_text(name: str) -> Cast:
    """The expression of a column (or of a related one, by its lookup) as text."""
    return Cast(name, TextField())


def instant(text: str) -> datetime:
    """The instant, in UTC, of a column fetched as text.

    SQLite keeps UTC without saying so, PostgreSQL says +00; read with it, it need not be put there after.
    """
    try:
        read = datetime.fromisoformat(text if text.endswith("+00") else f"{text}+00:00")
    except ValueError:  # written in another form, past the program
        read = datetime.fromisoformat(text)
    return read if read.tzinfo is UTC else read.replace(tzinfo=UTC)


def identities(texts: Sequence[str]) -> list[UUID]:
    """The UUIDs of a column fetched as text, all at once: a third of the time of one by one."""
    try:
        return msgspec.convert(texts, list[UUID])
    except msgspec.ValidationError:  # written in another form, past the program
        return [UUID(text) for text in texts]


identity = lru_cache(maxsize=4096)(UUID)
"""The UUID of a column fetched as text, for those that recur: of families and infants."""
