"""Versions of the clinic's policy, appended like entries."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import chain, models
from suffice.record.repository import one_transaction
from suffice.record.values import Policy


def newest() -> Policy | None:
    """The newest version, the one in force; None before there is any."""
    return next(iter(_policies(models.PolicyVersion.objects.order_by("-number")[:1])), None)


def every() -> tuple[Policy, ...]:
    """Every version of the policy, oldest first."""
    return _policies(models.PolicyVersion.objects.order_by("number"))


def append(
    policy_id: UUID, content: dict[str, object], *, entered_at: datetime, entered_by: str
) -> Policy:
    """Append a version of the clinic's policy; a repeated identical one is a no-op.

    Raises:
        InputError: RECORD-002, when the id is already there with other content.
    """
    row = models.PolicyVersion(
        id=policy_id,
        entered_at=entered_at.astimezone(UTC),
        entered_by=entered_by,
        policy=content,
    )
    with one_transaction():
        earlier = models.PolicyVersion.objects.filter(id=policy_id)
        if not earlier.exists():
            try:
                with transaction.atomic():
                    row.save(force_insert=True)
                    chain.extend(chain.POLICY, [row])
            except IntegrityError:
                # PostgreSQL lets two append the same version at once; the second finds the first's.
                if not earlier.exists():
                    raise
        (found,) = _policies(earlier.all())
        if found.policy != content:
            raise InputError(_taken_policy(policy_id))
        return found


def _policies(rows: Iterable[models.PolicyVersion]) -> tuple[Policy, ...]:
    return tuple(
        Policy(
            number=row.number,
            id=row.id,
            entered_at=row.entered_at,
            entered_by=row.entered_by,
            policy=row.policy,
        )
        for row in rows
    )


def _taken_policy(policy_id: UUID) -> Problem:
    return Problem(
        code="RECORD-002",
        what=message(
            "The policy version {policy_id} is already there with other content.",
            policy_id=str(policy_id),
        ),
        why=message("A version never changes once it is stored."),
        fix=message("Give the new version an id of its own."),
        where="id",
    )
