"""The clinic as it is set up now: its policy, and the content with its own values in it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec

from suffice.errors import Problem, StorageError
from suffice.knowledge.clinic_site import ClinicSite
from suffice.knowledge.policy import Clinic, Policy, policy_from_settings
from suffice.knowledge.store import load
from suffice.message import message
from suffice.record import policies
from suffice.record.values import Policy as StoredPolicy

__all__ = [
    "Clinic",
    "PolicyVersion",
    "change_policy",
    "clinic",
    "is_in_use",
    "keep_site",
    "policy_history",
]


class PolicyVersion(msgspec.Struct, frozen=True, kw_only=True):
    """One version of the policy, with who entered it and when."""

    number: int
    entered_at: datetime
    entered_by: str
    policy: Policy


def clinic() -> Clinic:
    """The clinic as it is set up now; one query.

    Raises:
        StorageError: POLICY-005, when the stored policy is not one this version can read.
        ContentError: When a value the policy replaces is no longer in the content.
    """
    stored = policies.newest()
    policy = Policy() if stored is None else _read(stored)
    number = 0 if stored is None else stored.number
    return Clinic(policy=policy, policy_version=number, content=policy.content_in_force(load()))


def policy_history() -> tuple[PolicyVersion, ...]:
    """Every version of the policy, the newest first."""
    return tuple(
        PolicyVersion(
            number=stored.number,
            entered_at=stored.entered_at,
            entered_by=stored.entered_by,
            policy=_read(stored),
        )
        for stored in reversed(policies.every())
    )


def change_policy(
    version_id: UUID,
    settings: Mapping[str, Any],
    *,
    now: datetime,
    actor: str,
    confirmed: bool = False,
) -> PolicyVersion:
    """Append a version of the policy. Caseload rows follow at their next refresh.

    Args:
        version_id: Client-made id of the version; a repeated one is a no-op.
        settings: The whole policy as plain settings; a missing field takes its default, but what the
            clinic's own infants say stays.
        now: The instant.
        actor: User who changes it.
        confirmed: True when the reader has confirmed values outside the published range.

    Raises:
        InputError: POLICY-001 to POLICY-004, CLOCK-005, CONTENT-013, CONTENT-014, CONTENT-025; RECORD-002
            when the id is taken by another version. Values outside a published range are doubtful, not
            refused; those beyond the limits of the content are.
    """
    policy = _whole(settings, confirmed=confirmed)
    return _append(version_id, policy, now=now, actor=actor)


def is_in_use(version_id: UUID, settings: Mapping[str, Any]) -> bool:
    """Whether settings are those in use already, under another version: then nothing is to be stored.

    A version that is sent once more is not meant: it was stored under its own id.

    Raises:
        InputError: As `change_policy` does.
    """
    stored = policies.newest()
    if stored is None or stored.id == version_id:
        return False
    return _whole(settings, confirmed=True) == _read(stored)


def _whole(settings: Mapping[str, Any], *, confirmed: bool) -> Policy:
    """The policy of plain settings, with what the clinic's own infants say where they are silent of it."""
    policy = policy_from_settings(settings, load(), confirmed=confirmed)
    return (
        policy if "site" in settings else msgspec.structs.replace(policy, site=clinic().policy.site)
    )


def keep_site(version_id: UUID, site: ClinicSite, *, now: datetime, actor: str) -> PolicyVersion:
    """Append a version of the policy that differs in what the clinic's own infants say.

    All else stays as it stands, values too that are passed over since.

    Args:
        version_id: Client-made id of the version; a repeated one is a no-op.
        site: What they say.
        now: The instant.
        actor: Who keeps it.
    """
    policy = msgspec.structs.replace(clinic().policy, site=site)
    return _append(version_id, policy, now=now, actor=actor)


def _append(version_id: UUID, policy: Policy, *, now: datetime, actor: str) -> PolicyVersion:
    plain = msgspec.json.decode(msgspec.json.encode(policy))
    stored = policies.append(version_id, plain, entered_at=now, entered_by=actor)
    return PolicyVersion(
        number=stored.number,
        entered_at=stored.entered_at,
        entered_by=stored.entered_by,
        policy=_read(stored),
    )


def _read(stored: StoredPolicy) -> Policy:
    try:
        return msgspec.convert(stored.policy, Policy)
    except msgspec.ValidationError as error:
        raise StorageError(
            Problem(
                code="POLICY-005",
                what=message(
                    "Version {number} of the policy cannot be read: {error}.",
                    number=stored.number,
                    error=str(error),
                ),
                why=message("It was written by another version of the program."),
                fix=message("Use that version, or enter the policy again with this one."),
            )
        ) from error
