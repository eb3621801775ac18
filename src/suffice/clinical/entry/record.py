"""Entries, and a family's record of them.

An :class:`Entry` says one fact, who said it, when it was true and when it was entered. Facts are
immutable and refuse to exist when their structure is wrong; whether a value is plausible is asked
elsewhere (clinical.plausibility), against limits that come from the content store.

Missing is ``None`` and means 'not asked': it is never zero and never 'no'.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from datetime import datetime
from enum import StrEnum
from typing import get_args
from uuid import UUID

import msgspec

from suffice.clinical.entry.answer import Answer
from suffice.clinical.entry.birth import Birth, Identity
from suffice.clinical.entry.body import AnyOfBody
from suffice.clinical.entry.contact import Consent, Contact, ContactStart, Note, Withdrawal
from suffice.clinical.entry.death import Death
from suffice.clinical.entry.feed import Expression, Feed, FeedCount
from suffice.clinical.entry.field import Fact, kind_of
from suffice.clinical.entry.handover import Handover
from suffice.clinical.entry.known import Known
from suffice.clinical.entry.latch_photograph import LatchPhotograph
from suffice.clinical.entry.milk import MilkMoved, MilkStored
from suffice.clinical.entry.observation import Observation
from suffice.clinical.entry.output import Stool, Wet
from suffice.clinical.entry.paper import Amendment, PaperGiven, SignedNote
from suffice.clinical.entry.parent_day import ParentDay
from suffice.clinical.entry.plan import Plan
from suffice.clinical.entry.problem import ProblemStatus
from suffice.clinical.entry.score import Score
from suffice.clinical.entry.size import Size
from suffice.clinical.entry.telephone import Telephone
from suffice.clinical.entry.watched_feed import WatchedFeed
from suffice.clinical.entry.weight import TestWeight, Weight

AnyFact = (
    Birth
    | Death
    | Weight
    | Size
    | TestWeight
    | Feed
    | FeedCount
    | WatchedFeed
    | LatchPhotograph
    | Expression
    | MilkStored
    | MilkMoved
    | Wet
    | Stool
    | AnyOfBody
    | Telephone
    | ParentDay
    | Observation
    | ProblemStatus
    | Plan
    | PaperGiven
    | SignedNote
    | Amendment
    | Score
    | Known
    | Handover
    | Answer
    | ContactStart
    | Contact
    | Consent
    | Identity
    | Note
    | Withdrawal
)
KINDS: dict[str, type[Fact]] = {kind_of(one): one for one in get_args(AnyFact)}
"""Every kind of fact by its name."""


class Basis(StrEnum):
    """How a fact is known."""

    MEASURED = "measured"
    OBSERVED = "observed"
    REPORTED = "reported"


class Entry(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One observed fact. Instants are aware; `infant_id` is None for a fact about the parent."""

    id: UUID
    fact: AnyFact
    basis: Basis
    true_at: datetime
    entered_at: datetime
    entered_by: str
    infant_id: UUID | None = None
    device: str | None = None
    replaces: UUID | None = None

    def __post_init__(self) -> None:
        if self.true_at.tzinfo is None or self.entered_at.tzinfo is None:
            raise ValueError("an instant needs its offset from UTC")


class Infant(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An infant of a family; `position` 1 is the first-born."""

    id: UUID
    position: int


class Record(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that is known of one family: its infants and every entry, superseded ones included."""

    family_id: UUID
    infants: tuple[Infant, ...]
    entries: tuple[Entry, ...] = ()

    def entries_at(self, as_of: datetime, known_by: datetime | None = None) -> tuple[Entry, ...]:
        """The entries that stand as of an instant; see :func:`standing_at`."""
        return standing_at(self.entries, as_of, known_by)


def standing(entries: Iterable[Entry], known_by: datetime | None = None) -> tuple[Entry, ...]:
    """Of all entries those that stand, whenever they are true, ordered by when.

    An entry stands when no other entry replaces it; withdrawals themselves are left out. `known_by`
    leaves out, before that, what was entered later: it answers 'what did we know then'. Ties are
    broken by id, so the order of `entries` never matters.
    """
    entered = (
        list(entries) if known_by is None else [e for e in entries if e.entered_at <= known_by]
    )
    replaced = {entry.replaces for entry in entered if entry.replaces is not None}
    kept = [entry for entry in entered if type(entry.fact) is not Withdrawal]
    if replaced:
        kept = [entry for entry in kept if entry.id not in replaced]
    return tuple(sorted(kept, key=lambda entry: (entry.true_at, entry.id.int)))


def standing_at(
    entries: Iterable[Entry], as_of: datetime, known_by: datetime | None = None
) -> tuple[Entry, ...]:
    """Of all entries those that stand (:func:`standing`) and were true by an instant."""
    found = standing(entries, known_by)
    return found[: count_until(found, as_of)]


def count_until(entries: Sequence[Entry], as_of: datetime) -> int:
    """How many entries were true by an instant; they come in order of time."""
    return bisect_right(entries, as_of, key=lambda entry: entry.true_at)


def about(entries: Iterable[Entry], infant_id: UUID | None) -> tuple[Entry, ...]:
    """The entries about one infant (or about the parent: None), in the order given."""
    if infant_id is None:
        return tuple(entry for entry in entries if entry.infant_id is None)
    # Two ids are seldom one object; most are told apart, or found equal, by their numbers alone.
    number = infant_id.int
    return tuple(
        entry for entry in entries if entry.infant_id is not None and entry.infant_id.int == number
    )
