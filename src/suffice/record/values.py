"""What the caseload needs of a family, as values: no row of the database leaves this room."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

import msgspec

from suffice.errors import Problem

ORDER_LENGTH = 8
"""How many numbers order the families within a tier; a shorter order is filled up with zeros."""


class CaseloadRow(msgspec.Struct, frozen=True, kw_only=True):
    """What care last computed for a family. Derived and replaceable: see models.CaseloadRow.

    Attributes:
        record_seq: The newest entry that was known to it (0: none).
        policy_version: The number of the policy that was in force (0: none).
        valid_until: The first instant at which time alone may change it.
        order: Up to ORDER_LENGTH finite numbers; smaller comes first within a tier. Empty where it was not asked for.
        payload: Whatever care wants back with it, encoded by care.
    """

    family_id: UUID
    record_seq: int
    content_version: str
    engine_version: str
    policy_version: int
    as_of: datetime
    valid_until: datetime
    tier: int
    reason: str
    order: tuple[float, ...] = ()
    discharged: bool = False
    payload: str = ""


class FamilyLine(msgspec.Struct, frozen=True, kw_only=True):
    """A family on the list, with its newest entry (0: none) and its caseload row, if it has one."""

    family_id: UUID
    latest_seq: int
    row: CaseloadRow | None = None


class Policy(msgspec.Struct, frozen=True, kw_only=True):
    """One version of the clinic's policy; care knows what its JSON means."""

    number: int
    id: UUID
    entered_at: datetime
    entered_by: str
    policy: dict[str, object]


class Appended(msgspec.Struct, frozen=True, kw_only=True):
    """What an append did: the ids stored now, and those that were already there unchanged."""

    new: tuple[UUID, ...]
    already_there: tuple[UUID, ...]
    latest_seq: int


class WouldAppend(msgspec.Struct, frozen=True, kw_only=True):
    """What appending entries would come to: any refusal keeps all of them out.

    Attributes:
        is_new: Whether the family would be opened.
        new: Ids of the entries that would be stored.
        already_there: Ids of those that are on the record already.
        refused: Every problem that would be raised.
    """

    is_new: bool
    new: frozenset[UUID] = frozenset()
    already_there: frozenset[UUID] = frozenset()
    refused: tuple[Problem, ...] = ()


class Stored(msgspec.Struct, frozen=True, kw_only=True):
    """How much the record holds: by it a copy is compared with what it was made of.

    Attributes:
        newest_at: When the newest entry was entered; None without entries.
    """

    families: int
    entries: int
    newest_at: datetime | None = None
