"""Columns fetched as text and turned into values here: several times faster for whole records.

Django's own converters of instants and UUIDs are made for a few rows; a caseload has thousands.
Either engine casts an instant to ISO text in UTC and a UUID to its digits.
"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import lru_cache
from uuid import UUID

from django.db.models import TextField
from django.db.models.functions import Cast


def as_text(name: str) -> Cast:
    """The expression of a column (or of a related one, by its lookup) as text."""
    return Cast(name, TextField())


def instant(text: str) -> datetime:
    """The instant, in UTC, of a column fetched as text."""
    read = datetime.fromisoformat(text)
    # SQLite keeps UTC without saying so, PostgreSQL says +00.
    return read.replace(tzinfo=UTC)


identity = lru_cache(maxsize=4096)(UUID)
"""The UUID of a column fetched as text, for those that recur: of families and infants."""
