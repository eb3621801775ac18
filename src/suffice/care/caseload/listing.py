"""The caseload: every open family in the order of need, each with its reason.

Listing reads two things, the policy and the caseload rows, in a fixed number of queries, whatever the
number of families. A row that no longer holds keeps its place and is shown with its as-of; it
is never passed off as current. A family that was never assessed comes right after the red ones.

What a family is called never waits to be assessed: where entries were made since the row was, the
names are read from the record, three queries more for every 500 such families.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import datetime
from enum import StrEnum
from functools import cached_property
from typing import Final
from uuid import UUID

import msgspec

from suffice.assess.assessment import ENGINE_VERSION
from suffice.assess.names import NAMING, Called, called
from suffice.assess.results import Tier
from suffice.care.caseload.rows import refresh
from suffice.care.caseload.summary import InfantLine, Payload, reason_of
from suffice.care.clinic.clinic import clinic
from suffice.clinical.entry import Setting
from suffice.message import Words, message
from suffice.record import caseload as shelf
from suffice.record import repository
from suffice.record.values import FamilyLine

_payloads = msgspec.json.Decoder(Payload)
NOTHING_KEPT: Final = Payload(name="", setting=None, next_due_at=None, infants=())
NOT_ASSESSED = message("Not assessed yet.")
Versions = tuple[str, str, int]
"""Those of content, engine and policy."""


class Outdated(StrEnum):
    """Why a row does not say how things stand now."""

    NEW_ENTRIES = "entries were made since"
    TIME = "time has passed since"
    RULES = "content, policy or engine have changed since"
    NEVER = "never assessed"


class CaseloadRow(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """One family on the caseload.

    Why it stands where it does and what is shown of it are read when they are asked: a page shows few of
    its families.

    Attributes:
        place: 1 for the first.
        kept_reason: The reason as the row keeps it; None when it was never assessed.
        kept: What is shown of the family: as the row keeps it, or read already.
        as_of: As of when the rank was computed; None when it never was.
        outdated: Why the rank may no longer hold; None when it is current.
    """

    place: int
    family_id: UUID
    tier: Tier | None
    kept_reason: str | None
    kept: str | Payload
    discharged: bool
    as_of: datetime | None
    outdated: Outdated | None

    @property
    def reason(self) -> tuple[Words, ...]:
        """Why it stands where it does."""
        return (NOT_ASSESSED,) if self.kept_reason is None else reason_of(self.kept_reason)

    @cached_property
    def shown(self) -> Payload:
        """What is shown of the family."""
        return self.kept if isinstance(self.kept, Payload) else _read(self.kept) or NOTHING_KEPT

    @property
    def name(self) -> Words:
        """What the family is called."""
        return self.shown.name

    @property
    def setting(self) -> Setting | None:
        """Where it is seen."""
        return self.shown.setting

    @property
    def infants(self) -> tuple[InfantLine, ...]:
        """Its infants, by position."""
        return self.shown.infants

    @property
    def next_due_at(self) -> datetime | None:
        """When something is due next."""
        return self.shown.next_due_at

    @property
    def last_entry_at(self) -> datetime | None:
        """When the latest of what was entered was true."""
        return self.shown.last_entry_at

    @property
    def red_codes(self) -> tuple[str, ...]:
        """The codes of its red findings."""
        return self.shown.red_codes


class Caseload(msgspec.Struct, frozen=True, kw_only=True):
    """The families in order; `outdated_count` of them wait to be assessed anew."""

    rows: tuple[CaseloadRow, ...]
    outdated_count: int


def caseload(
    *,
    now: datetime,
    with_discharged: bool = False,
    refresh_limit: int = 0,
    team_ids: Collection[UUID] | None = None,
) -> Caseload:
    """The caseload as it stands.

    Args:
        now: The instant, by which a row is current or not.
        with_discharged: Whether families discharged from care are listed too.
        refresh_limit: How many outdated families are assessed anew first, the most urgent ones;
            0 leaves that to the background. Costs a fixed number of queries more, if any is.
        team_ids: The teams whose families are listed; None lists all.
    """
    here = clinic()
    in_force = (here.content_key, ENGINE_VERSION, here.policy_version)
    lines = _lines(team_ids, with_discharged=with_discharged)
    if refresh_limit:
        old = [line.family_id for line in _ordered(lines) if _outdated(line, in_force, now)]
        if old:
            refresh(old[:refresh_limit], here, now=now)
            lines = _lines(team_ids, with_discharged=with_discharged)
    ordered = _ordered(lines)
    outdated = [_outdated(line, in_force, now) for line in ordered]
    shown = _shown(ordered, outdated, now)
    rows = [
        _row(place, *one) for place, one in enumerate(zip(ordered, outdated, shown, strict=True), 1)
    ]
    waiting = sum(1 for row in rows if row.outdated is not None)
    return Caseload(rows=tuple(rows), outdated_count=waiting)


def _lines(team_ids: Collection[UUID] | None, *, with_discharged: bool) -> list[FamilyLine]:
    return shelf.families(with_discharged=with_discharged, with_order=False, team_ids=team_ids)


def _ordered(lines: Iterable[FamilyLine]) -> list[FamilyLine]:
    """What a physician sees first, then those never assessed (nobody knows how urgent), then the rest."""
    lines = list(lines)
    first = [line for line in lines if line.row and line.row.tier <= Tier.TODAY]
    never = [line for line in lines if line.row is None]
    rest = [line for line in lines if line.row and line.row.tier > Tier.TODAY]
    return [*first, *never, *rest]


def _outdated(line: FamilyLine, in_force: Versions, now: datetime) -> Outdated | None:
    row = line.row
    if row is None:
        return Outdated.NEVER
    if row.record_seq != line.latest_seq:
        return Outdated.NEW_ENTRIES
    versions = (row.content_version, row.engine_version, row.policy_version)
    if versions != in_force:
        return Outdated.RULES
    if not row.as_of <= now < row.valid_until:
        return Outdated.TIME
    return None


def _row(
    place: int, line: FamilyLine, outdated: Outdated | None, kept: str | Payload
) -> CaseloadRow:
    row = line.row
    return CaseloadRow(
        place=place,
        family_id=line.family_id,
        tier=Tier(row.tier) if row else None,
        kept_reason=row.reason if row else None,
        kept=kept,
        discharged=row.discharged if row else False,
        as_of=row.as_of if row else None,
        outdated=outdated,
    )


def _shown(
    lines: Sequence[FamilyLine], outdated: Sequence[Outdated | None], now: datetime
) -> Iterator[str | Payload]:
    """What is shown of each family: what its row keeps, with the names from the record where they may differ.

    What this very version kept for the entries that are there stays unread until it is asked.
    """
    kept = [_kept(line, why) for line, why in zip(lines, outdated, strict=True)]
    lacking = [
        line.family_id
        for line, own in zip(lines, kept, strict=True)
        if own is None or line.row is None or line.row.record_seq != line.latest_seq
    ]
    records = repository.read_many(lacking, kinds=NAMING) if lacking else {}
    for line, own in zip(lines, kept, strict=True):
        record = records.get(line.family_id)
        if record is None:
            yield own or NOTHING_KEPT
        else:
            yield _renamed(own if isinstance(own, Payload) else NOTHING_KEPT, called(record, now))


def _kept(line: FamilyLine, outdated: Outdated | None) -> str | Payload | None:
    """What the row keeps, read where entries or rules are new since; None where it cannot be read."""
    if line.row is None:
        return None
    if outdated in {None, Outdated.TIME}:
        return line.row.payload
    return _read(line.row.payload)


def _read(payload: str) -> Payload | None:
    """What a row keeps; None where an earlier version kept it in another form."""
    try:
        return _payloads.decode(payload)
    except msgspec.MsgspecError:
        return None


def _renamed(kept: Payload, named: Called) -> Payload:
    there = {one.infant_id: one for one in kept.infants}
    infants = (
        msgspec.structs.replace(there[one.infant_id], name=one.name)
        if one.infant_id in there
        else InfantLine(
            infant_id=one.infant_id, position=one.position, name=one.name, born_at=one.born_at
        )
        for one in named.infants
    )
    return msgspec.structs.replace(kept, name=named.family, infants=tuple(infants))
