"""Loads the demo caseload into an empty record."""

from __future__ import annotations

from datetime import datetime
from uuid import uuid5

import msgspec

from suffice.care.caseload.rows import refresh
from suffice.care.clinic.clinic import change_policy, clinic
from suffice.care.demo.family import NAMESPACE, Families
from suffice.care.demo.scenario import scenario
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import repository


def is_empty() -> bool:
    """Whether the record holds no family."""
    return not repository.family_ids()


def load_demo(*, now: datetime, actor: str, rank: bool = True) -> int:
    """Load the invented service and its families, whole or not at all.

    Args:
        now: The instant to which every age counts back.
        actor: User who is said to have made the entries.
        rank: Whether caseload rows are computed at once; otherwise they follow at the next refresh.

    Returns:
        How many families were loaded.

    Raises:
        InputError: DEMO-001, when the record already holds families.
    """
    if not is_empty():
        raise InputError(
            Problem(
                code="DEMO-001",
                what=message("There are already families on the record."),
                why=message("Invented families must never be mixed with real ones."),
                fix=message("Set SUFFICE_HOME (or DATABASE_URL) to an empty place for the demo."),
            )
        )
    written = scenario()
    records = list(Families(written, now=now, entered_by=actor).records())
    settings = msgspec.to_builtins(written.service)
    with repository.one_transaction():
        change_policy(uuid5(NAMESPACE, "policy"), settings, now=now, actor=actor)
        for record in records:
            born_at = record.entries[0].true_at
            repository.open_family(
                record.family_id, record.infants, opened_at=born_at, opened_by=actor
            )
            repository.append(record.family_id, record.entries)
    if rank:
        refresh([record.family_id for record in records], clinic(), now=now)
    return len(records)
