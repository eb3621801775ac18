"""Imports that are written in short transactions and come onto the record in one moment.

What an entry says of its author and its time is the file's claim; its :class:`Arrival` says who brought
it here and when, and what was known here goes by that.

Each row carries the number of its import. Nobody sees it before the import's :class:`Arrival` is
there, which the last transaction writes; an import that ends earlier was never on the record, and
what it wrote may be deleted (append_only.py).

A caseload row is known to be stale by the newest `seq` of its family. Entries that are written early
have early numbers; so of each family that was on the record before, one entry is kept back for the
last transaction, in which its number is the newest whatever was entered meanwhile.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from uuid import UUID

import msgspec
from django.db import connection

from suffice.clinical.entry import Entry, Infant, Record
from suffice.clinical.structure import oldest_first, opening_problems
from suffice.errors import InputError, Problem, StorageError
from suffice.message import message
from suffice.record import chain, damage, models
from suffice.record.erased import erased_among, was_erased
from suffice.record.repository import (
    insert,
    one_transaction,
    read_infants,
    related,
    taken_otherwise,
    weighed_up,
)
from suffice.record.teams import place_opened

SLICE_ROWS = 500
"""Rows of one transaction: some 50 ms on a plain disk, during which nobody else can write."""
REST = 1.0
"""How long the others are let in between two transactions, as a multiple of the one before."""
REST_LEAST_S = 0.01

Turn = Callable[[], AbstractContextManager[None]]
"""Opens one transaction of the job at work; see :func:`suffice.record.jobs.turn`."""

TABLES = {
    "record_entry": "seq",
    "record_infant": "id",
    "record_placement": "number",
    "record_family": "id",
    "record_link": "seq",
}
"""In the order in which their rows can be deleted, each with its key."""


class Brought(msgspec.Struct, frozen=True, kw_only=True):
    """What an import put on the record."""

    opened_count: int
    entry_count: int


class Imported(msgspec.Struct, frozen=True, kw_only=True):
    """Who put an entry on this record, and when, whoever it names as its author.

    Attributes:
        by: The user; empty where it was not kept.
    """

    at: datetime
    by: str


def bring(  # noqa: PLR0913 -- what an import is
    number: int,
    records: Sequence[Record],
    *,
    opened_at: datetime,
    opened_by: str,
    team_id: UUID | None = None,
    turn: Turn,
    progress: Callable[[int, int], None],
    brought_by: str | None = None,
    exact: bool = False,
) -> Brought:
    """Write new entries of many families, and their families where new, and let them arrive.

    Args:
        number: Of the job; nothing else is ever written under it.
        records: For each family its infants and its new entries.
        opened_at: When families that are new are opened.
        opened_by: By whom.
        team_id: The team to which they belong; None for the first.
        turn: Opens a transaction; what it raises ends the import.
        progress: Called with (rows written, rows) after each transaction.
        brought_by: Who imports them, where the file says that somebody else opened the families.
        exact: Whether `entered_at` must agree where an entry is there already.

    Raises:
        InputError: RECORD-002 to RECORD-008, RECORD-011; nothing has come onto the record.
        DamageError: RECORD-014, when a family was changed outside the program.
        StorageError: RECORD-009; RECORD-012, when what is being imported was entered meanwhile.
    """
    bringing = _Bringing(number, records, opened_at, opened_by, team_id)
    bringing.brought_by = opened_by if brought_by is None else brought_by
    bringing.exact = exact
    slices = _slices(records, bringing.there)
    total = sum(map(_row_count, records))
    for early in slices[:-1]:
        began_s = time.monotonic()
        with turn():
            bringing.put(early)
        progress(bringing.row_count, total)
        rest(time.monotonic() - began_s)
    with turn():
        bringing.arrive(slices[-1], is_whole=len(slices) == 1)
    progress(total, total)
    return Brought(opened_count=len(bringing.opened), entry_count=bringing.entry_count)


def rest(worked_s: float) -> None:
    """Let others write: whoever waits for the lock of SQLite looks for it only now and then."""
    time.sleep(max(REST_LEAST_S, REST * worked_s))


def has_arrived(number: int) -> bool:
    """Whether what was written under a number is on the record."""
    return models.Arrival.objects.filter(number=number).exists()


def entry_count(number: int) -> int:
    """How many entries came with an import; 0 where it has not arrived."""
    found = models.Arrival.objects.filter(number=number).values_list("entry_count", flat=True)
    return found.first() or 0


def imported(family_id: UUID) -> dict[UUID, Imported]:
    """Of each entry of a family that came with an import, by whom and when it came here."""
    rows = models.Entry.objects.filter(family_id=str(family_id), arrival__isnull=False)
    arrival_of = dict(rows.values_list("id", "arrival"))
    if not arrival_of:
        return {}
    found = models.Arrival.objects.filter(number__in=set(arrival_of.values()))
    arrivals = {one.number: Imported(at=one.arrived_at, by=one.brought_by) for one in found}
    return {key: arrivals[number] for key, number in arrival_of.items() if number is not None}


def drop(number: int) -> None:
    """Delete what was written under a number that has not arrived and will not.

    In short transactions, too; it may be interrupted and begun again. The caller has made sure that
    nobody writes under the number any more.
    """
    if has_arrived(number):
        return
    for table, key in TABLES.items():
        some = f"SELECT {key} FROM {table} WHERE arrival = %s LIMIT %s"  # noqa: S608 -- our names
        delete = f"DELETE FROM {table} WHERE {key} IN ({some})"  # noqa: S608 -- our names
        while True:
            began_s = time.monotonic()
            with one_transaction(), connection.cursor() as cursor:
                cursor.execute(delete, [number, SLICE_ROWS])
                deleted = cursor.rowcount
            if not deleted:
                break
            rest(time.monotonic() - began_s)
    models.ChainHead.objects.filter(chain=chain.of_import(number)).delete()


def _row_count(record: Record) -> int:
    return len(record.entries)


def _slices(records: Sequence[Record], there: dict[UUID, tuple[Infant, ...]]) -> list[list[Record]]:
    """The records in portions for one transaction each; the last is that in which they arrive.

    Few rows make one portion. Else the last holds one entry of each family of `there`.
    """
    if sum(1 + len(record.infants) + len(record.entries) for record in records) <= SLICE_ROWS:
        return [list(records)]
    slices: list[list[Record]] = [[]]
    kept_back: list[Record] = []
    room = SLICE_ROWS
    for record in records:
        entries: Sequence[Entry] = oldest_first(record.entries)
        if record.family_id in there:
            kept_back.append(_part(record, entries[-1:]))
            entries = entries[:-1]
        while entries:
            cost = 1 + len(record.infants)  # counted with each part: simple, and never too few
            if room <= cost:
                slices.append([])
                room = SLICE_ROWS
            part, entries = entries[: room - cost], entries[room - cost :]
            slices[-1].append(_part(record, part))
            room -= cost + len(part)
    return [*slices, kept_back]


def _part(record: Record, entries: Sequence[Entry]) -> Record:
    return msgspec.structs.replace(record, entries=tuple(entries))


class _Bringing:
    """An import on its way."""

    def __init__(
        self,
        number: int,
        records: Sequence[Record],
        opened_at: datetime,
        opened_by: str,
        team_id: UUID | None,
    ) -> None:
        self.team_id = team_id
        self.number, self.opened_at = number, opened_at
        self.opened_by = self.brought_by = opened_by
        self.exact = False
        self.there = read_infants([record.family_id for record in records])
        self.opened: set[UUID] = set()
        self.entry_count = self.row_count = 0
        damage.refuse(list(self.there))
        problems = [problem for record in records for problem in self._misfits(record)]
        if erased_among([record.family_id for record in records]):
            problems.append(was_erased())
        if problems:
            raise InputError(*problems)

    def _misfits(self, record: Record) -> Sequence[Problem]:
        """What keeps a family from being opened, or from being the one on the record."""
        infants = tuple(sorted(record.infants, key=lambda infant: infant.position))
        if record.family_id not in self.there:
            return opening_problems(infants, opened_at=self.opened_at, opened_by=self.opened_by)
        if self.there[record.family_id] == infants:
            return ()
        return (taken_otherwise(message("family {id}", id=str(record.family_id))),)

    def put(self, records: Sequence[Record], *, is_whole: bool = False) -> None:
        """Write some of the rows, within a transaction of the caller's."""
        self._open([record for record in records if record.family_id not in self.there])
        stored = related([entry for record in records for entry in record.entries])
        rows: list[tuple[UUID, Entry]] = []
        for record in records:
            key, infant_ids = record.family_id, {infant.id for infant in record.infants}
            fresh, there, problems = weighed_up(
                key, infant_ids, record.entries, stored, exact=self.exact
            )
            if problems:
                raise InputError(*problems)
            if there and not is_whole:
                raise StorageError(_entered_meanwhile())
            rows += [(key, entry) for entry in oldest_first(fresh)]
        insert(rows, arrival=self.number)
        self.entry_count += len(rows)
        self.row_count += sum(map(_row_count, records))

    def _open(self, records: Sequence[Record]) -> None:
        fresh = [record for record in records if record.family_id not in self.opened]
        families = models.Family.objects.bulk_create(
            models.Family(
                id=record.family_id,
                opened_at=self.opened_at.astimezone(UTC),
                opened_by=self.opened_by,
                arrival=self.number,
            )
            for record in fresh
        )
        infants = models.Infant.objects.bulk_create(
            models.Infant(
                id=infant.id,
                family_id=str(record.family_id),
                position=infant.position,
                arrival=self.number,
            )
            for record in fresh
            for infant in record.infants
        )
        place_opened(
            [record.family_id for record in fresh],
            self.team_id,
            now=self.opened_at.astimezone(UTC),
            by=self.opened_by,
            arrival=self.number,
        )
        rows = [*families, *infants]
        chain.extend(chain.of_import(self.number), rows, arrival=self.number)
        self.opened |= {record.family_id for record in fresh}

    def arrive(self, last: Sequence[Record], *, is_whole: bool) -> None:
        """Write the rest and let everything come onto the record, within one transaction."""
        there = [record.family_id for record in last if record.family_id in self.there]
        # As in repository.append: writers of one family wait for one another, so that the numbers
        # of its entries grow with their commits. In one order, so that nobody waits in a circle;
        # NO KEY, so that a caseload row can be stored meanwhile.
        lock = models.Family.objects.select_for_update(no_key=True).order_by("id")
        for start in range(0, len(there), SLICE_ROWS):
            list(lock.filter(id__in=sorted(there)[start : start + SLICE_ROWS]).values_list("id"))
        self.put(last, is_whole=is_whole)
        arrived = models.Arrival.objects.create(
            number=self.number,
            arrived_at=datetime.now(UTC),
            brought_by=self.brought_by,
            opened_count=len(self.opened),
            entry_count=self.entry_count,
        )
        chain.extend(chain.ARRIVALS, [arrived])


def _entered_meanwhile() -> Problem:
    return Problem(
        code="RECORD-012",
        what=message("Entries of this file came onto the record while it was being imported."),
        why=message("Somebody imported the same family at the same time; nothing was stored."),
        fix=message("Import the file again: what is on the record already is left alone."),
    )
