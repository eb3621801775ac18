"""That an infant has died."""

from __future__ import annotations

from typing import ClassVar

from suffice.clinical.entry.field import Fact, Kind
from suffice.message import message


class Death(Fact, tag="death", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The infant has died; the entry's `true_at` is when. Nothing more is asked."""

    declared: ClassVar[Kind] = Kind(
        name=message("death"),
        title=message("The infant has died"),
        basis="reported",
        when=message("When"),
        is_once=True,
    )
