"""Which families were erased, as writers ask for it: none of them is opened again."""

from __future__ import annotations

from collections.abc import Collection
from uuid import UUID

from suffice.errors import Problem
from suffice.message import message
from suffice.record import models


def erased_among(family_ids: Collection[UUID]) -> frozenset[UUID]:
    """Which of some families were on the record and have been erased. Few ever are, so all are read."""
    if not family_ids:
        return frozenset()
    every = models.Erasure.objects.values_list("family_id", flat=True)
    return frozenset(every) & frozenset(family_ids)


def was_erased() -> Problem:
    """RECORD-017: what was erased does not come back under its id."""
    return Problem(
        code="RECORD-017",
        what=message("This family was on the record here and was erased."),
        why=message("What two people erased does not come back by a file; nothing was stored."),
        fix=message("If the family is looked after again, open it again."),
    )
