"""Putting facts on the record: open a family, enter, correct and withdraw entries.

Each use case is one transaction. When it returns, what was entered survives a crash; the family's
caseload row is computed after that, so a slow or failing assessment can never lose an entry.

A value that is impossible is refused. A doubtful one raises the same error with
``problem.doubtful`` set on every problem: ask the reader, then call again with `confirmed`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Final
from uuid import UUID, uuid5

import msgspec

from suffice.care.caseload.rows import refresh
from suffice.care.clinic.clinic import clinic
from suffice.care.clinic.people import full_names
from suffice.care.family.plausible import entry_problems
from suffice.care.family.two_persons import problems_of_given
from suffice.care.photographs.consent import erase_ended, may_end
from suffice.clinical.entry import Basis, Entry, Feed, MilkMoved, Record, Withdrawal, standing
from suffice.clinical.entry.milk import feed_of
from suffice.errors import InputError, Problem
from suffice.knowledge.policy import Clinic
from suffice.message import message
from suffice.record import repository
from suffice.record.teams import place_opened
from suffice.record.values import Appended

NOT_GIVEN: Final = "the milk was not given"
"""Why a feed was withdrawn, as the record keeps it."""


class Opened(msgspec.Struct, frozen=True, kw_only=True):
    """A family that is on the record now; `is_new` is False when it was there already."""

    family_id: UUID
    is_new: bool
    appended: Appended


def open_family(
    record: Record,
    *,
    now: datetime,
    actor: str,
    confirmed: bool = False,
    team_id: UUID | None = None,
) -> Opened:
    """Open a family with its infants and first entries, whole or not at all.

    Args:
        record: Client-made ids of family, infants and entries.
        now: The instant of entering.
        actor: User who opens it.
        confirmed: True when the reader has confirmed doubtful values.
        team_id: The team to which it belongs; None for the first.

    Raises:
        InputError: RECORD-001 to RECORD-011 and the codes of plausibility.
        StorageError: RECORD-009.
    """
    here = clinic()
    there = repository.read_many([record.family_id]).get(record.family_id)
    known = there or msgspec.structs.replace(record, entries=())
    _refuse(known, record.entries, here, now=now, confirmed=confirmed)
    with repository.one_transaction():
        is_new = repository.open_family(
            record.family_id, record.infants, opened_at=now, opened_by=actor
        )
        if is_new:
            place_opened([record.family_id], team_id, now=now, by=actor, arrival=None)
        appended = repository.append(record.family_id, record.entries)
    if may_end(record.entries):
        erase_ended(record.family_id)
    refresh([record.family_id], here, now=now)
    return Opened(family_id=record.family_id, is_new=is_new, appended=appended)


def record_entries(
    family_id: UUID, entries: Sequence[Entry], *, now: datetime, confirmed: bool = False
) -> Appended:
    """Enter facts about a family, all or none; entries that are there already are left alone.

    Args:
        family_id: The family.
        entries: The entries, with client-made ids; `entered_by` says who enters them.
        now: The instant of entering; no entry may be true after it.
        confirmed: True when the reader has confirmed doubtful values.

    Raises:
        InputError: RECORD-001 to RECORD-007 and the codes of plausibility; all that are found.
        StorageError: RECORD-009, RECORD-010.
    """
    here = clinic()
    record = repository.read(family_id)
    _refuse(record, entries, here, now=now, confirmed=confirmed)
    appended = repository.append(family_id, entries)
    _after(family_id, entries, appended, here, now)
    return appended


def record_following(
    family_id: UUID,
    entries_of: Callable[[Record], Sequence[Entry]],
    *,
    now: datetime,
    confirmed: bool = False,
) -> Appended:
    """Enter what follows from the record: whether something is there already, or who was faster.

    From reading to storing nobody else enters anything about the family, so two that ask in the same
    instant are answered one after the other.

    Args:
        family_id: The family.
        entries_of: The entries to store, all or none, from the record as it is at that moment; it may be
            asked for a record that another device has just changed, and may raise InputError.
        now: The instant of entering; no entry may be true after it.
        confirmed: True when the reader has confirmed doubtful values.

    Raises:
        InputError: As :func:`record_entries`, and what `entries_of` raises; nothing is stored.
        StorageError: RECORD-009, RECORD-010.
    """
    here = clinic()
    with repository.one_writer(family_id):
        record = repository.read(family_id)
        entries = entries_of(record)
        _refuse(record, entries, here, now=now, confirmed=confirmed)
        appended = repository.append(family_id, entries)
    _after(family_id, entries, appended, here, now)
    return appended


def record_entry(
    family_id: UUID, entry: Entry, *, now: datetime, confirmed: bool = False
) -> Appended:
    """Enter one fact; see :func:`record_entries`. A correction names the entry it `replaces`."""
    return record_entries(family_id, [entry], now=now, confirmed=confirmed)


def correct_entry(
    family_id: UUID,
    wrong_id: UUID,
    entry: Entry,
    *,
    now: datetime,
    confirmed: bool = False,
) -> Appended:
    """Put a corrected entry in the place of a wrong one; both stay on the record.

    Milk that was not given after all takes the feed that was put down with it along.

    Raises:
        InputError: As :func:`record_entries`; RECORD-003 to RECORD-005 when it cannot replace it.
    """
    corrected = msgspec.structs.replace(entry, replaces=wrong_id)
    following = _feed_taken_back(repository.read(family_id), corrected)
    return record_entries(family_id, [corrected, *following], now=now, confirmed=confirmed)


def withdraw_entry(
    family_id: UUID,
    wrong_id: UUID,
    *,
    withdrawal_id: UUID,
    reason: str,
    now: datetime,
    actor: str,
) -> Appended:
    """Take an entry that was made in error out of every computation; it stays on the record.

    Milk that was put down as given takes the feed that was put down with it along.

    Args:
        family_id: The family.
        wrong_id: The entry made in error.
        withdrawal_id: Client-made id of the withdrawal; a repeated one is a no-op.
        reason: Why; shown beside the entry.
        now: The instant.
        actor: User who withdraws it.

    Raises:
        InputError: ENTRY-001 without a reason; RECORD-001, RECORD-003, RECORD-004.
    """
    if not reason.strip():
        raise InputError(
            Problem(
                code="ENTRY-001",
                what=message("No reason is given."),
                why=message(
                    "Whoever reads the record later must see why an entry no longer counts."
                ),
                fix=message("Say in a few words what was wrong with it."),
                where="reason",
            )
        )
    record = repository.read(family_id)
    wrong = next((entry for entry in record.entries if entry.id == wrong_id), None)
    withdrawal = Entry(
        id=withdrawal_id,
        fact=Withdrawal(reason=reason.strip()),
        basis=Basis.OBSERVED,
        true_at=wrong.true_at if wrong else now,
        entered_at=now,
        entered_by=actor,
        infant_id=wrong.infant_id if wrong else None,
        replaces=wrong_id,
    )
    following = _feed_taken_back(record, withdrawal)
    appended = repository.append(family_id, [withdrawal, *following])
    erase_ended(family_id)
    refresh([family_id], clinic(), now=now)
    return appended


def _feed_taken_back(record: Record, change: Entry) -> tuple[Entry, ...]:
    """The withdrawal of the feed that was put down with milk as given, where a change says that it was not.

    Args:
        record: The record before the change.
        change: A withdrawal, or a correction.
    """
    by_id = {one.id: one for one in record.entries}
    wrong = by_id.get(change.replaces) if change.replaces is not None else None
    if wrong is None or not isinstance(wrong.fact, MilkMoved) or wrong.fact.to != "used":
        return ()
    if isinstance(change.fact, MilkMoved) and change.fact.to == "used":
        return ()
    # Either may have been corrected since: the feed goes by the first entry of the milk.
    feeds = {feed_of(one.id) for one in _and_what_it_corrects(wrong, by_id)}
    feed = next(
        (
            one
            for one in standing(record.entries)
            if isinstance(one.fact, Feed)
            and any(first.id in feeds for first in _and_what_it_corrects(one, by_id))
        ),
        None,
    )
    if feed is None:
        return ()
    is_withdrawn = isinstance(change.fact, Withdrawal)
    return (
        Entry(
            id=uuid5(change.id, "feed"),
            fact=change.fact if is_withdrawn else Withdrawal(reason=NOT_GIVEN),
            basis=Basis.OBSERVED,
            true_at=feed.true_at,
            entered_at=change.entered_at,
            entered_by=change.entered_by,
            infant_id=feed.infant_id,
            replaces=feed.id,
        ),
    )


def _and_what_it_corrects(entry: Entry, by_id: Mapping[UUID, Entry]) -> Iterator[Entry]:
    """An entry and, the latest first, those in whose place it stands."""
    found: Entry | None = entry
    while found is not None:
        yield found
        found = by_id.get(found.replaces) if found.replaces is not None else None


def _after(
    family_id: UUID, entries: Sequence[Entry], appended: Appended, here: Clinic, now: datetime
) -> None:
    """What follows once entries are stored: it may take its time or fail, and nothing is lost."""
    if may_end(entries):
        erase_ended(family_id)
    if appended.new:
        refresh([family_id], here, now=now)


def _refuse(
    record: Record, entries: Sequence[Entry], here: Clinic, *, now: datetime, confirmed: bool
) -> None:
    """Raise what is impossible; what is doubtful only as long as nobody has confirmed it."""
    there = {entry.id for entry in record.entries}
    new = [entry for entry in entries if entry.id not in there]
    problems = entry_problems(record, new, here.content, now=now)
    if any(isinstance(entry.fact, MilkMoved) for entry in new):
        problems = [*problems, *problems_of_given(record, new, full_names())]
    impossible = [problem for problem in problems if not problem.doubtful]
    if impossible or (problems and not confirmed):
        raise InputError(*(impossible or problems))
