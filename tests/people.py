"""Invented families for tests that need one and do not care which."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid5

from suffice.clinical.entry import AnyFact, Basis, Entry, Infant

_NAMESPACE = UUID("5c1e3b1c-6f5f-4d5e-9d0e-0a4d6f1f7a10")
BORN_AT = datetime(2026, 3, 1, 4, 30, tzinfo=UTC)


def an_id(name: str) -> UUID:
    """The same id for the same name, in every run."""
    return uuid5(_NAMESPACE, name)


def an_entry(
    name: str,
    fact: AnyFact,
    *,
    infant: Infant | None,
    at_h: float = 0,
    replaces: Entry | None = None,
    basis: Basis = Basis.MEASURED,
) -> Entry:
    """An entry that became true `at_h` hours after birth and was entered ten minutes later."""
    true_at = BORN_AT + timedelta(hours=at_h)
    return Entry(
        id=an_id(name),
        fact=fact,
        basis=basis,
        true_at=true_at,
        entered_at=true_at + timedelta(minutes=10),
        entered_by="consultant",
        infant_id=infant.id if infant is not None else None,
        device="scale 1",
        replaces=replaces.id if replaces is not None else None,
    )
