"""What the Family page says of an infant that has died."""

from __future__ import annotations

from uuid import UUID

import msgspec

from suffice.assess.results import Died
from suffice.web.shown.wording import in_sentences


class DiedShown(msgspec.Struct, frozen=True, kw_only=True):
    """That an infant has died: what is said of it, and the entry that says it."""

    says: str
    entry_id: UUID
    is_day_open: bool


def died_shown(died: Died) -> DiedShown:
    """The same in words."""
    return DiedShown(
        says=in_sentences([died.says]),
        entry_id=died.entry_id,
        is_day_open=died.is_said_by_parent,
    )
