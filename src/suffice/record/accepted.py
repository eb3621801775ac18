"""Damage that somebody has accepted: that person answers for going on with it.

Kept on the trail, which can be neither changed nor shortened: who, when, why, and which finding, told by
the digest of what was there. What is changed once more afterwards is a new finding.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from uuid import UUID, uuid4

import msgspec

from suffice.record import models, trail
from suffice.record.verify import Found, Wrong

PAGE = "suffice verify --accept"
ACT = "record"
DIGITS = 16
"""Of a digest: enough to tell one finding from another."""


class Acceptance(msgspec.Struct, frozen=True, kw_only=True):
    """Who accepted a finding, when and why."""

    who: str
    at: datetime
    why: str


def can_be(found: Found) -> bool:
    """Whether a finding may be accepted: what is on a damaged page may be read as anything."""
    return found.wrong is not Wrong.PAGE


def name_of(found: Found) -> str:
    """What names a finding on the trail."""
    return f"{found.wrong} {found.form or '-'} {found.key} {found.digest[:DIGITS]}"


def accept(found: Iterable[Found], *, who: str, why: str, now: datetime) -> None:
    """Accept findings, all or none.

    Raises:
        StorageError: RECORD-009.
    """
    trail.put([
        trail.Event(
            id=uuid4(),
            at=now,
            who=who,
            act=ACT,
            page=PAGE,
            about=name_of(one),
            why=why,
            family_id=UUID(one.family) if one.family else None,
        )
        for one in found
    ])  # fmt: skip


def among(found: Collection[Found]) -> dict[Found, Acceptance]:
    """Those of the findings that were accepted. What is wrong with the trail itself accepts nothing."""
    if not found:
        return {}
    wrong_events = {one.key for one in found if one.form == "event"}
    accepted = {
        row.about: Acceptance(who=row.who, at=row.at, why=row.why)
        for row in models.TrailEvent.objects.filter(act=ACT, page=PAGE).order_by("seq")
        if row.id.hex not in wrong_events and str(row.seq) not in wrong_events
    }
    return {one: accepted[name_of(one)] for one in found if name_of(one) in accepted}
