"""Families in and out: whole ones as JSON files, weights, feeds and output from tables."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from contextlib import suppress
from datetime import datetime
from hashlib import sha256
from uuid import UUID

import msgspec

from suffice.assess.parameters import parameters_of
from suffice.care import jobs
from suffice.care.caseload.rows import refresh, refresh_stale
from suffice.care.clinic.access import Access, check_import, team_of_new
from suffice.care.clinic.clinic import clinic
from suffice.care.family.called import families_called
from suffice.care.family.plausible import checker
from suffice.care.photographs.consent import erase_ended, may_end
from suffice.clinical.entry import Entry, Record, kind_of
from suffice.errors import InputError, Problem, StorageError, SufficeError
from suffice.exchange.family.family_json import Checker, FamilyFile, decode, encode
from suffice.exchange.table.file import Table, read_table
from suffice.exchange.table.importing import CsvImport, Preview, preview_of, read_csv
from suffice.exchange.table.options import CsvOptions
from suffice.record import repository
from suffice.record.arrival import bring
from suffice.record.values import Appended, WouldAppend


class Imported(msgspec.Struct, frozen=True, kw_only=True):
    """What an import did; a file imported before adds nothing."""

    family_id: UUID
    is_new: bool
    appended: Appended


class KindCount(msgspec.Struct, frozen=True, kw_only=True):
    """How many entries of one kind a family file holds, and from when to when they are true."""

    kind: str
    new_count: int
    there_count: int
    first_at: datetime
    last_at: datetime


class FamilyPreview(msgspec.Struct, frozen=True, kw_only=True):
    """What importing a family file would come to; nothing is stored.

    Attributes:
        record: The family as the file has it.
        is_new: Whether the family would be opened; False where it is on the record already.
        new_count: How many entries would be added.
        there_count: How many are on the record already.
        kinds: The same by kind of entry, in the order in which the file first holds each.
        refused: What keeps the whole file out, each with its reason.
        doubts: What must be confirmed first.
    """

    record: Record
    is_new: bool
    new_count: int
    there_count: int
    kinds: tuple[KindCount, ...]
    refused: tuple[Problem, ...]
    doubts: tuple[Problem, ...]

    @property
    def doubts_key(self) -> str:
        """Names the doubts that were shown: another set of them must be asked about anew."""
        lines = "\n".join(f"{one.code} {one.where} {one.what}" for one in self.doubts)
        return sha256(lines.encode()).hexdigest()[:16] if lines else ""


def preview_family(content: bytes, *, now: datetime, access: Access | None = None) -> FamilyPreview:
    """What :func:`import_family` would add, what is there already, and what it would refuse.

    Args:
        content: The bytes of the file.
        now: The instant.
        access: What whoever asks may do; None for whoever runs the program.

    Raises:
        InputError: JSON-001 to JSON-004, FAMILY-001 to FAMILY-003, RECORD-003 to RECORD-007,
            RECORD-011 and impossible values: a file of which nothing can be counted.
    """
    decoded = decode(content, _of_new_entries(checker(clinic().content, now=now)))
    record = decoded.file.record
    check_import(access, [record.family_id], now=now)
    would = repository.would_append(record.family_id, record.infants, record.entries, exact=True)
    return FamilyPreview(
        record=record,
        is_new=would.is_new,
        new_count=len(would.new),
        there_count=len(would.already_there),
        kinds=tuple(_counted(record, would)),
        refused=would.refused,
        doubts=decoded.doubts,
    )


def _counted(record: Record, would: WouldAppend) -> Iterator[KindCount]:
    by_kind: dict[str, list[Entry]] = {}
    for entry in record.entries:
        by_kind.setdefault(kind_of(entry.fact), []).append(entry)
    for kind, entries in by_kind.items():
        instants = [entry.true_at for entry in entries]
        yield KindCount(
            kind=kind,
            new_count=sum(entry.id in would.new for entry in entries),
            there_count=sum(entry.id in would.already_there for entry in entries),
            first_at=min(instants),
            last_at=max(instants),
        )


def import_family(
    content: bytes,
    *,
    now: datetime,
    actor: str,
    confirmed: bool = False,
    access: Access | None = None,
    team_id: UUID | None = None,
) -> Imported:
    """Put a family file on the record, whole or not at all; entries already there are left alone.

    Its entries keep what the file says of their authors and times. That `actor` brought them here
    now is kept beside it, and what was known here goes by that.

    Args:
        content: The bytes of the file.
        now: The instant, for the family's caseload row.
        actor: Who imports it.
        confirmed: True when the reader has confirmed the doubtful values in it.
        access: What whoever imports it may do; None for whoever runs the program.
        team_id: The team to which the family goes where it is new; see :func:`team_of_new`.

    Raises:
        InputError: FAMILY-001 to FAMILY-005 and impossible values; RECORD-001 to RECORD-008, ACCESS-001 to ACCESS-003.
            Doubtful values raise too until they are confirmed.
        StorageError: RECORD-009, RECORD-012, RECORD-014.
    """
    here = clinic()
    decoded = decode(content, _of_new_entries(checker(here.content, now=now)))
    if decoded.doubts and not confirmed:
        raise InputError(*decoded.doubts)
    head, record = decoded.file.family, decoded.file.record
    key = record.family_id
    with repository.one_transaction():
        is_new = bool(check_import(access, [key], now=now))
        would = repository.would_append(key, record.infants, record.entries, exact=True)
        if would.refused:
            raise InputError(*would.refused)
        goes_to = team_of_new(access, team_id, now=now) if is_new else None
        new = tuple(entry for entry in record.entries if entry.id in would.new)
        if would.is_new or new:
            bring(
                jobs.done_at_once(jobs.Kind.IMPORT, by=actor),
                [msgspec.structs.replace(record, entries=new)],
                opened_at=head.opened_at,
                opened_by=head.opened_by,
                brought_by=actor,
                team_id=goes_to,
                exact=True,
                turn=repository.one_transaction,
                progress=lambda _done, _all: None,
            )
        latest = repository.latest_seq(key)
    if may_end(record.entries):
        erase_ended(key)
    if would.is_new or new:
        refresh([key], here, now=now)
    there = tuple(entry.id for entry in record.entries if entry.id in would.already_there)
    appended = Appended(
        new=tuple(entry.id for entry in new), already_there=there, latest_seq=latest
    )
    return Imported(family_id=key, is_new=would.is_new, appended=appended)


def _of_new_entries(check: Checker) -> Checker:
    """The checker, silent about what is on the record already: it was confirmed when it came."""

    def checked(record: Record) -> Iterator[tuple[UUID, Problem]]:
        there = repository.read_many([record.family_id]).get(record.family_id)
        known = {entry.id for entry in there.entries} if there else set()
        return (found for found in check(record) if found[0] not in known)

    return checked


def export_family(family_id: UUID) -> bytes:
    """A family as a JSON file; importing it elsewhere gives the same record.

    Raises:
        InputError: RECORD-001, when there is no such family.
        StorageError: RECORD-010.
    """
    record = repository.read(family_id)
    opened_at, opened_by = repository.opening(family_id)
    return encode(FamilyFile.from_record(record, opened_at=opened_at, opened_by=opened_by))


class TableImported(msgspec.Struct, frozen=True, kw_only=True):
    """What the import of a table did.

    Attributes:
        family_ids: The families that the table has anything new about, those just opened included.
        opened_count: How many of them were opened.
        entry_count: How many entries were added.
        read: What the reader of the table says: rows, repeats, rows left out, doubts accepted.
    """

    family_ids: tuple[UUID, ...]
    opened_count: int
    entry_count: int
    read: CsvImport


def preview_csv(
    content: bytes,
    options: CsvOptions,
    family_id: UUID | None = None,
    *,
    access: Access | None = None,
) -> Preview:
    """How a table will be read, with what must be said first; stores nothing.

    Args:
        content: The bytes of the file.
        options: What the reader says about it.
        family_id: The family that the table is about; None for several, or a cohort.
        access: What whoever asks may do; None for whoever runs the program.

    Raises:
        InputError: CSV-001 to CSV-007 when there is no table; RECORD-001.
    """
    table = read_table(content, encoding=options.encoding, delimiter=options.delimiter)
    return preview_table(table, options, family_id, access=access)


def preview_table(
    table: Table,
    options: CsvOptions,
    family_id: UUID | None = None,
    *,
    access: Access | None = None,
) -> Preview:
    """The same of a table that was read already.

    Raises:
        InputError: RECORD-001.
    """
    family = repository.read(family_id) if family_id else None
    limits = parameters_of(clinic().content).reading
    families = families_called(access, now=options.entered_at)
    return preview_of(table, options, limits, family=family, families=families)


def import_csv(
    content: bytes,
    options: CsvOptions,
    *,
    now: datetime,
    family_id: UUID | None = None,
    team_id: UUID | None = None,
    watch: jobs.Watch | None = None,
) -> TableImported:
    """Put a table on the record, whole or not at all; what is there already is left alone.

    It is a job (:mod:`suffice.care.jobs`) of which the caller waits for the end.

    Args:
        content: The bytes of the file.
        options: What the reader says about it, doubts confirmed among it.
        now: The instant of the import.
        family_id: The family that the table is about; None for several, or a cohort.
        team_id: The team to which new families go; see :func:`team_of_new`.
        watch: Told of each stage how far it is: reading and checking (rows), storing (entries),
            assessing (families).

    Raises:
        InputError: CSV-001 to CSV-050: every question, every problem with its row, or every doubt;
            ACCESS-003.
        StorageError: RECORD-009, RECORD-012, JOB-001; nothing is stored.
    """
    job = jobs.ask(jobs.Kind.IMPORT, by=options.entered_by)
    try:
        work = table_work(content, options, now=now, family_id=family_id, team_id=team_id)
        return jobs.run(job, work, watch=watch)
    except (jobs.Cancelled, jobs.Superseded) as stop:
        raise StorageError(jobs.stopped()) from stop


TableWork = Callable[[jobs.Running], tuple[TableImported, jobs.Outcome]]


def table_work(
    content: bytes,
    options: CsvOptions,
    *,
    now: datetime,
    family_id: UUID | None = None,
    access: Access | None = None,
    team_id: UUID | None = None,
) -> TableWork:
    """The work of a job that imports a table; see :func:`import_csv`.

    `access` is what whoever imports it may do; None for whoever runs the program.

    Its outcome counts families, opened, entries, repeated (entries there already) and rows, and
    holds the problems of rows that were left out.
    """

    def work(running: jobs.Running) -> tuple[TableImported, jobs.Outcome]:
        done = _import_table(content, options, now, family_id, running, access, team_id)
        return done, _outcome(done, family_id)

    return work


def _import_table(
    content: bytes,
    options: CsvOptions,
    now: datetime,
    family_id: UUID | None,
    running: jobs.Running,
    access: Access | None,
    team_id: UUID | None,
) -> TableImported:
    here = clinic()

    def known(ids: Collection[UUID]) -> dict[UUID, Record]:
        check_import(access, ids, now=now)
        return repository.read_many(ids)

    read = read_csv(
        content,
        options,
        parameters_of(here.content).reading,
        family=repository.read(family_id) if family_id else None,
        families=families_called(access, now=now),
        known=known,
        check=checker(here.content),
        progress=running.stage("reading"),
        checking=running.stage("checking"),
    )
    new = check_import(access, [one.family_id for one in read.records], now=now)
    brought = bring(
        running.number,
        read.records,
        opened_at=now,
        opened_by=options.entered_by,
        team_id=team_of_new(access, team_id, now=now) if new else None,
        turn=running.turn,
        progress=running.stage("storing"),
    )
    ids = tuple(record.family_id for record in read.records)
    # From here on everything is on the record. What stops the job now stops the ranks only, which
    # the caseload computes by itself.
    with suppress(jobs.Cancelled, SufficeError):
        refresh_stale(now=now, family_ids=ids, progress=running.stage("assessing"))
    return TableImported(
        family_ids=ids,
        opened_count=brought.opened_count,
        entry_count=brought.entry_count,
        read=read,
    )


def _outcome(done: TableImported, family_id: UUID | None) -> jobs.Outcome:
    left_out = done.read.left_out
    return jobs.Outcome(
        counts={
            "families": len(done.family_ids),
            "opened": done.opened_count,
            "entries": done.entry_count,
            "repeated": done.read.repeated_count,
            "rows": done.read.row_count,
        },
        problems=left_out[: jobs.PROBLEMS_KEPT],
        problems_count=len(left_out),
        family_id=family_id,
    )
