"""What the latest whole check found wrong, as pages and writers ask for it."""

from __future__ import annotations

from collections.abc import Collection
from uuid import UUID

from django.db.models import Q

from suffice.errors import DamageError, Problem
from suffice.message import message
from suffice.record import models

PAGE = "page"
"""The code of damage that concerns every family: a page of the database file."""
ACCEPTED = "accepted "
"""How the code of damage begins that somebody answers for (accepted.py): it keeps nobody from entering."""
PROBLEM = Problem(
    code="RECORD-014",
    what=message("Nothing more can be entered here."),
    why=message("A check found that what is stored is not what was entered."),
    fix=message("Trust no value without its source, write on paper, and tell the administrator."),
)


def is_damaged(family_id: UUID | None) -> bool:
    """Whether what is stored of a family is known to be other than what was entered.

    Args:
        family_id: The family; None asks about damage that concerns all of them.
    """
    damaged = _known()
    return None in damaged or (family_id is not None and family_id in damaged)


def refuse(family_ids: Collection[UUID]) -> None:
    """Let nothing be added to a damaged record: it is kept as it was found.

    Raises:
        DamageError: RECORD-014.
    """
    damaged = _known()
    if None in damaged or not damaged.isdisjoint(family_ids):
        raise DamageError(PROBLEM)


def _known() -> set[UUID | None]:
    """The damaged families; None among them where all are concerned. Seldom any, so all are read."""
    found = models.Damage.objects.filter(Q(code=PAGE) | Q(family_id__isnull=False))
    found = found.exclude(code__startswith=ACCEPTED)
    return set(found.values_list("family_id", flat=True))
