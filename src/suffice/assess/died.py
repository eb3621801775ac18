"""Whether an infant has died, and all that is said of one that has: nothing is to be done for it.

It is said by an entry of its own. In a family of one infant the parent's reason to stop lactation says
the same. Either holds until something is entered that only a living infant shows: a doubt calms nobody.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Final
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.case import Case
from suffice.assess.results import TWO_THINGS, Died, InfantAssessment
from suffice.clinical.entry import (
    Bilirubin,
    Death,
    Entry,
    Feed,
    FeedCount,
    Infant,
    Observation,
    Record,
    Sign,
    Size,
    Stool,
    Temperature,
    TestWeight,
    WatchedFeed,
    Weight,
    Wet,
    about,
)
from suffice.clinical.units import HOURS_PER_DAY
from suffice.knowledge.policy import Policy
from suffice.message import Message, Words, message

OF_THE_LIVING: Final = (
    Bilirubin,
    Feed,
    FeedCount,
    Sign,
    Size,
    Stool,
    Temperature,
    TestWeight,
    WatchedFeed,
    Weight,
    Wet,
)
"""Kinds that only a living infant shows."""
REASON: Final = "stop_reason"
INFANT_DIED: Final = "infant_died"
"""The parent's reason to stop, and its choice, that say that the only infant has died."""


def death_of(
    infant: Infant, infants: Sequence[Infant], entries: Sequence[Entry], zone: ZoneInfo
) -> Died | None:
    """When an infant has died; None where nothing says so.

    Args:
        infant: The infant.
        infants: All infants of the family.
        entries: The entries of the family that stand and are true by the instant of the question.
        zone: The clinic's, for the day.
    """
    own = about(entries, infant.id)
    death = _death_in(own)
    if death is not None:
        is_doubtful = bool(shown_living_since(death, own))
        return None if is_doubtful else _died(death, zone, is_said_by_parent=False)
    if len(infants) > 1:
        return None
    reason = _reason_of_parent(about(entries, None))
    if reason is None or shown_living_since(reason, own):
        return None
    return _died(reason, zone, is_said_by_parent=True)


def _death_in(own: Iterable[Entry]) -> Entry | None:
    return next((one for one in reversed(tuple(own)) if type(one.fact) is Death), None)


def doubt_of(own: Sequence[Entry]) -> Words:
    """What is asked of an infant that has died by one entry and lives by a later one; else empty."""
    death = _death_in(own)
    return TWO_THINGS if death is not None and shown_living_since(death, own) else ""


def deaths_of(record: Record, as_of: datetime, policy: Policy) -> dict[UUID, Died]:
    """The infants of a family that have died by an instant."""
    entries, zone = record.entries_at(as_of), ZoneInfo(policy.zone)
    found = {one.id: death_of(one, record.infants, entries, zone) for one in record.infants}
    return {key: one for key, one in found.items() if one is not None}


def of_living(record: Record, as_of: datetime, policy: Policy) -> Record:
    """The same record with the infants that live: those that something is still asked of."""
    gone = deaths_of(record, as_of, policy)
    kept = tuple(one for one in record.infants if one.id not in gone)
    return msgspec.structs.replace(record, infants=kept)


def shown_living_since(death: Entry, own: Iterable[Entry]) -> list[Entry]:
    """What only a living infant shows and is true after an entry that says that it has died."""
    return [
        one for one in own if isinstance(one.fact, OF_THE_LIVING) and one.true_at > death.true_at
    ]


def _reason_of_parent(parent: Iterable[Entry]) -> Entry | None:
    """The parent's last reason to stop, where it is that the infant has died."""
    reasons = [
        one for one in parent if isinstance(one.fact, Observation) and one.fact.what == REASON
    ]
    last = max(reasons, key=lambda one: (one.true_at, one.entered_at), default=None)
    if last is None or not isinstance(last.fact, Observation):
        return None
    return last if INFANT_DIED in last.fact.answers else None


def _died(entry: Entry, zone: ZoneInfo, *, is_said_by_parent: bool) -> Died:
    return Died(
        at=entry.true_at,
        on=entry.true_at.astimezone(zone).date(),
        entry_id=entry.id,
        is_said_by_parent=is_said_by_parent,
    )


def as_such(case: Case, policy: Policy, at: datetime) -> InfantAssessment:
    """Who an infant is and how old at an instant, before anything is computed of it.

    Args:
        case: The infant, laid out.
        policy: The clinic's, for the zone where no birth is known.
        at: The instant.
    """
    birth, age_h = case.birth, case.age_at(at)
    return InfantAssessment(
        infant_id=case.infant.id,
        position=case.infant.position,
        name=case.name,
        born_at=case.born_at,
        zone=birth.zone if birth else policy.zone,
        sex=birth.sex if birth else None,
        age_h=age_h,
        age_days=None if age_h is None else int(age_h // HOURS_PER_DAY),
        gestation_days=birth.gestation_days if birth else None,
        corrected_age_days=None,
        birth_weight_g=birth.birth_weight_g if birth else None,
    )


def living(infants: Iterable[InfantAssessment]) -> tuple[InfantAssessment, ...]:
    """Those of a family that live."""
    return tuple(one for one in infants if one.died is None)


def who_died(infants: Sequence[InfantAssessment]) -> Iterator[Message]:
    """Who has died: whoever picks up the phone reads it first."""
    for infant in infants:
        if infant.died is not None and len(infants) == 1:
            yield message("The infant has died.")
        elif infant.died is not None:
            yield message("{name} has died.", name=infant.name)
