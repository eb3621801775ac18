"""What is kept of an assessment for the caseload. Pure: nothing here touches the database.

It stands apart from :mod:`suffice.care.caseload.rows` so that other processes can compute caseload rows
without opening the record.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

import msgspec

from suffice.assess.assessment import ENGINE_VERSION, assess, is_discharged
from suffice.assess.results import FamilyAssessment, Rank
from suffice.clinical.entry import Birth, Record, Setting
from suffice.knowledge.policy import Clinic, Policy
from suffice.knowledge.store import load
from suffice.message import Words
from suffice.record.values import CaseloadRow

Slice = list[tuple[int, Record]]
"""Records, each with the number of the newest entry that it holds."""


_slices = msgspec.msgpack.Decoder(Slice)


def packed(read: Slice) -> bytes:
    """Records for another process: packed in a tenth of the time that pickling would take."""
    return msgspec.msgpack.encode(read)


class InfantLine(msgspec.Struct, frozen=True, kw_only=True):
    """What the caseload shows of an infant; a weight in clothes is no last weight there."""

    infant_id: UUID
    position: int
    name: Words
    born_at: datetime | None
    weight_g: float | None = None
    weight_at: datetime | None = None
    died_at: datetime | None = None


class Payload(msgspec.Struct, frozen=True, kw_only=True):
    """What the caseload shows of a family beside its rank."""

    name: Words
    setting: Setting | None
    next_due_at: datetime | None
    infants: tuple[InfantLine, ...]
    last_entry_at: datetime | None = None
    red_codes: tuple[str, ...] = ()


class Ranked(msgspec.Struct, frozen=True, kw_only=True):
    """A family with its rank as of an instant."""

    family_id: UUID
    name: Words
    as_of: datetime
    rank: Rank


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """As of when families are ranked: one instant, or an age of the first-born of each."""

    as_of: datetime | None = None
    age: timedelta | None = None
    engine: bool = True

    def instant_for(self, record: Record) -> datetime | None:
        """The instant of the question for a family; None where it has none."""
        if self.as_of is not None:
            return self.as_of
        first = min(record.infants, key=lambda infant: infant.position, default=None)
        replaced = {entry.replaces for entry in record.entries}
        births = [
            entry.true_at
            for entry in record.entries
            if first is not None
            and entry.infant_id == first.id
            and isinstance(entry.fact, Birth)
            and entry.id not in replaced
        ]
        return births[-1] + self.age if births and self.age is not None else None


def ranked_of(records: list[Record], clinic: Clinic, question: Question) -> list[Ranked]:
    """The families ranked for a question; those without an instant for it are left out."""
    found = []
    for record in records:
        instant = question.instant_for(record)
        if instant is None or not record.entries_at(instant):
            continue
        assessed = assess(
            record,
            instant,
            clinic.content,
            clinic.policy,
            engine=question.engine,
            for_rank=True,
        )
        found.append(
            Ranked(
                family_id=record.family_id,
                name=assessed.name,
                as_of=instant,
                rank=assessed.rank,
            )
        )
    return found


def ranked_elsewhere(policy: Policy, question: Question, read: bytes) -> tuple[int, list[Ranked]]:
    """In another process: how many records were asked about, and their ranks."""
    clinic = Clinic(policy=policy, policy_version=0, content=policy.content_in_force(load()))
    records = [record for _, record in _slices.decode(read)]
    return len(records), ranked_of(records, clinic, question)


def rows_of(read: Slice, clinic: Clinic, *, now: datetime) -> list[CaseloadRow]:
    """The caseload rows of some families, assessed as of now."""
    return [row_of(record, clinic, seq=seq, now=now) for seq, record in read]


def row_of(record: Record, clinic: Clinic, *, seq: int, now: datetime) -> CaseloadRow:
    """The caseload row of one family, assessed as of now.

    Args:
        record: The whole record.
        clinic: Policy and content in force.
        seq: The newest entry that `record` holds.
        now: The instant.
    """
    # Who has left care is not listed, so nobody waits for the engine's answer about them.
    discharged = is_discharged(record.entries_at(now))
    engine = clinic.policy.engine_ranking and not discharged
    assessed = assess(record, now, clinic.content, clinic.policy, engine=engine, for_rank=True)
    payload = _payload(assessed, record)
    return CaseloadRow(
        family_id=record.family_id,
        record_seq=seq,
        content_version=clinic.content_key,
        engine_version=ENGINE_VERSION,
        policy_version=clinic.policy_version,
        as_of=assessed.as_of,
        valid_until=now + _kept_when_discharged(clinic) if discharged else assessed.valid_until,
        tier=int(assessed.rank.tier),
        order=assessed.rank.order,
        reason=kept_reason(assessed.rank.reason),
        discharged=assessed.discharged,
        payload=msgspec.json.encode(payload).decode(),
    )


_reasons = msgspec.json.Decoder(tuple[Words, ...])


def kept_reason(reason: tuple[Words, ...]) -> str:
    """A reason as a caseload row keeps it: its messages, so that it is said when it is read."""
    return msgspec.json.encode(reason).decode()


def reason_of(kept: str) -> tuple[Words, ...]:
    """The reason that a caseload row keeps; an earlier version kept one finished sentence."""
    try:
        return _reasons.decode(kept)
    except msgspec.DecodeError:
        return (kept,)


def _kept_when_discharged(clinic: Clinic) -> timedelta:
    """How long a caseload row holds of a family that is not on the list."""
    return timedelta(days=clinic.content.constant("ranking.holds_discharged_d").value)


def _payload(assessed: FamilyAssessment, record: Record) -> Payload:
    infants = []
    for infant in assessed.infants:
        last = infant.usable_weights[-1] if infant.usable_weights else None
        infants.append(
            InfantLine(
                infant_id=infant.infant_id,
                position=infant.position,
                name=infant.name,
                born_at=infant.born_at,
                weight_g=last.weight_g if last else None,
                weight_at=last.at if last else None,
                died_at=infant.died.at if infant.died else None,
            )
        )
    findings = [*assessed.findings, *(f for infant in assessed.infants for f in infant.findings)]
    return Payload(
        name=assessed.name,
        setting=assessed.setting,
        next_due_at=assessed.next_due_at,
        infants=tuple(infants),
        last_entry_at=max((entry.true_at for entry in record.entries), default=None),
        red_codes=tuple(dict.fromkeys(f.code for f in findings if f.colour == "red")),
    )


def rows_elsewhere(
    policy: Policy, policy_version: int, now: datetime, read: bytes
) -> list[CaseloadRow]:
    """In another process: the content is loaded there, because it is not sent over."""
    content = policy.content_in_force(load())
    clinic = Clinic(policy=policy, policy_version=policy_version, content=content)
    return rows_of(_slices.decode(read), clinic, now=now)
