"""The one door to the record: families and entries as the domain's types, in and out.

Every write is one transaction: it happens whole or not at all, and when a function returns, what
it wrote survives a crash. Nothing here judges a value; whether entries fit together is asked of
clinical.structure, and the triggers of append_only.py stand behind it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any, TypeVar
from uuid import UUID

import msgspec
from django.db import DatabaseError, IntegrityError, transaction
from django.db.models import Max

from suffice.clinical.entry import AnyFact, Basis, Entry, Infant, Record, kind_of
from suffice.clinical.structure import (
    oldest_first,
    opening_problems,
    replaced,
    replacement_problem,
    second_replacement,
    storable_problem,
    subject_problem,
)
from suffice.errors import InputError, Problem, StorageError
from suffice.message import Message, message
from suffice.record import chain, damage, models
from suffice.record.erased import erased_among, was_erased
from suffice.record.reasons import refused, unreached
from suffice.record.row_text import as_text, identities, identity, instant
from suffice.record.values import Appended, WouldAppend

_Item = TypeVar("_Item")
_TEXTS = {
    f"{name}_text": as_text(name)
    for name in ("id", "infant_id", "true_at", "entered_at", "replaces_id", "fact", "family_id")
}
_COLUMNS = (
    "id_text",
    "infant_id_text",
    "basis",
    "true_at_text",
    "entered_at_text",
    "entered_by",
    "device",
    "replaces_id_text",
    "fact_text",
    "family_id_text",
)
_facts = msgspec.json.Decoder(list[AnyFact])
_BASES = {basis.value: basis for basis in Basis}
_CHUNK = 500
"""Ids per query and rows per insert: below the bound-parameter limit of either engine."""


@contextmanager
def one_transaction() -> Iterator[None]:
    """All writes within happen together or not at all; a failure of the store is a StorageError.

    May be nested: then the outermost one decides.
    """
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        raise StorageError(refused(error)) from error
    except DatabaseError as error:
        raise unavailable(error) from error


@contextmanager
def one_writer(family_id: UUID) -> Iterator[None]:
    """One transaction in which nobody else writes to a family: what is read within still holds when it ends.

    Raises:
        InputError: RECORD-001, when there is no such family.
    """
    with one_transaction():
        # SQLite has one writer at a time anyway; PostgreSQL lets the others wait for the family's row.
        if not models.Family.objects.select_for_update().filter(id=family_id).exists():
            raise InputError(no_family(family_id))
        yield


def unavailable(error: Exception) -> StorageError:
    """What to raise when the database fails: RECORD-009, nothing stored."""
    return StorageError(unreached(error))


def open_family(
    family_id: UUID, infants: Sequence[Infant], *, opened_at: datetime, opened_by: str
) -> bool:
    """Put a family and its infants on the record.

    Returns:
        True when it was opened now, False when it was already there with the same infants.

    Raises:
        InputError: RECORD-008, when the id of the family or of an infant is taken otherwise;
            RECORD-007 and RECORD-011, when it cannot be kept as given.
    """
    if problems := opening_problems(infants, opened_at=opened_at, opened_by=opened_by):
        raise InputError(*problems)
    with one_transaction():
        if _is_open(family_id, infants):
            return False
        try:
            with transaction.atomic():
                _insert_family(family_id, infants, opened_at, opened_by)
        except IntegrityError:
            # PostgreSQL lets two open the same family at once; the second finds the first's.
            if not _is_open(family_id, infants):
                raise
            return False
    return True


def _is_open(family_id: UUID, infants: Sequence[Infant]) -> bool:
    """Whether the family is on the record already, with the same infants."""
    # Infants are asked for first: whoever sees one sees its family too, however late it came.
    taken = models.Infant.objects.filter(id__in=[infant.id for infant in infants])
    clash = taken.values_list("id", flat=True).first()
    if models.Family.objects.filter(id=family_id).exists():
        if _infants(family_id) != tuple(sorted(infants, key=lambda infant: infant.position)):
            raise InputError(taken_otherwise(message("family {id}", id=str(family_id))))
        return True
    if erased_among([family_id]):
        raise InputError(was_erased())
    if clash is not None:
        raise InputError(taken_otherwise(message("infant {id}", id=str(clash))))
    return False


def _insert_family(
    family_id: UUID, infants: Sequence[Infant], opened_at: datetime, opened_by: str
) -> None:
    family = models.Family.objects.create(
        id=family_id, opened_at=opened_at.astimezone(UTC), opened_by=opened_by
    )
    rows = models.Infant.objects.bulk_create(
        models.Infant(id=infant.id, family_id=str(family_id), position=infant.position)
        for infant in infants
    )
    chain.extend(family_id.hex, [family, *rows])


def append(family_id: UUID, entries: Sequence[Entry], *, exact: bool = False) -> Appended:
    """Append entries to a family's record, all or none.

    An entry that is already there is left alone, so that a retry is harmless. It is the same entry
    when everything but `entered_at` agrees (the first arrival dates it); `exact` compares that too.

    Raises:
        InputError: RECORD-001 to RECORD-007; every problem found is carried, none stored.
        DamageError: RECORD-014, when what is stored of the family was changed outside the program.
        StorageError: RECORD-009, when the store could not take them; nothing is stored.
    """
    damage.refuse([family_id])
    # Entry.seq relies on it that the writers of one family wait for one another.
    with one_writer(family_id):
        infant_ids = {infant.id for infant in _infants(family_id)}
        stored = related(entries)
        fresh, there, problems = weighed_up(family_id, infant_ids, entries, stored, exact=exact)
        if problems:
            raise InputError(*problems)
        insert([(family_id, entry) for entry in oldest_first(fresh)])
        latest = latest_seq(family_id)
    return Appended(new=tuple(entry.id for entry in fresh), already_there=there, latest_seq=latest)


def would_append(
    family_id: UUID, infants: Sequence[Infant], entries: Sequence[Entry], *, exact: bool = False
) -> WouldAppend:
    """What opening a family and appending entries would come to; stores nothing.

    It asks the questions of :func:`open_family` and :func:`append`, and carries what they would
    refuse instead of raising it.
    """
    try:
        is_new = not _is_open(family_id, infants)
    except InputError as refusal:
        return WouldAppend(is_new=False, refused=refusal.problems)
    infant_ids = {infant.id for infant in infants}
    stored = related(entries)
    fresh, there, problems = weighed_up(family_id, infant_ids, entries, stored, exact=exact)
    return WouldAppend(
        is_new=is_new,
        new=frozenset(entry.id for entry in fresh),
        already_there=frozenset(there),
        refused=tuple(problems),
    )


def read(family_id: UUID) -> Record:
    """The whole record of a family.

    Raises:
        InputError: RECORD-001, when there is no such family.
        StorageError: RECORD-010, when an entry was written by a newer version of the program.
    """
    records = read_many([family_id])
    if family_id not in records:
        raise InputError(no_family(family_id))
    return records[family_id]


def opening(family_id: UUID) -> tuple[datetime, str]:
    """When and by whom a family was put on the record.

    Raises:
        InputError: RECORD-001, when there is no such family.
    """
    found = models.Family.objects.filter(id=family_id).values_list("opened_at", "opened_by").first()
    if found is None:
        raise InputError(no_family(family_id))
    return found


def read_many(
    family_ids: Collection[UUID], *, kinds: Collection[str] | None = None
) -> dict[UUID, Record]:
    """The records of many families, in three queries per 500; unknown ids are left out.

    Args:
        family_ids: The families.
        kinds: Only the entries of these kinds; None for all.
    """
    of_kinds = {} if kinds is None else {"kind__in": kinds}
    records: dict[UUID, Record] = {}
    for chunk in _chunks(list(dict.fromkeys(family_ids))):
        infants: dict[UUID, list[Infant]] = {}
        entries: dict[UUID, list[Entry]] = {}
        families = models.Family.objects.filter(id__in=chunk).values_list("id", flat=True)
        rows = models.Infant.objects.filter(family_id__in=chunk).order_by("position")
        for infant_id, owner, position in rows.values_list("id", "family_id", "position"):
            infants.setdefault(owner, []).append(Infant(id=infant_id, position=position))
        for owner, entry in _entries(family_id__in=chunk, **of_kinds):
            entries.setdefault(owner, []).append(entry)
        for key in families:
            records[key] = Record(
                family_id=key,
                infants=tuple(infants.get(key, ())),
                entries=tuple(entries.get(key, ())),
            )
    return records


def family_ids() -> tuple[UUID, ...]:
    """Every family on the record, in the order in which they were opened."""
    return tuple(
        models.Family.objects.order_by("opened_at", "id").values_list("id", flat=True).iterator()
    )


def latest_seq(family_id: UUID) -> int:
    """The number of the newest entry of a family; 0 when it has none."""
    found = models.Entry.objects.filter(family_id=str(family_id)).aggregate(newest=Max("seq"))
    return found["newest"] or 0


def latest_seqs(family_ids: Collection[UUID]) -> dict[UUID, int]:
    """The number of the newest entry of each family, in one query per 500; none: left out."""
    found: dict[UUID, int] = {}
    for chunk in _chunks(list(dict.fromkeys(family_ids))):
        rows = models.Entry.objects.filter(family_id__in=chunk).values_list("family_id")
        found.update(rows.annotate(newest=Max("seq")).values_list("family_id", "newest"))
    return found


def read_infants(family_ids: Collection[UUID]) -> dict[UUID, tuple[Infant, ...]]:
    """The infants of each of the families that are on the record, in order of position."""
    found: dict[UUID, tuple[Infant, ...]] = {}
    for chunk in _chunks(list(dict.fromkeys(family_ids))):
        families = models.Family.objects.filter(id__in=chunk).values_list("id", flat=True)
        found.update(dict.fromkeys(families, ()))
        rows = models.Infant.objects.filter(family_id__in=chunk).order_by("position")
        for owner, infant_id, position in rows.values_list("family_id", "id", "position"):
            found[owner] = (*found[owner], Infant(id=infant_id, position=position))
    return found


def _infants(family_id: UUID) -> tuple[Infant, ...]:
    rows = models.Infant.objects.filter(family_id=str(family_id)).order_by("position")
    return tuple(Infant(id=key, position=n) for key, n in rows.values_list("id", "position"))


def _entries(**conditions: Any) -> list[tuple[UUID, Entry]]:
    """The entries that meet the conditions, in order of `seq`, each with the id of its family."""
    rows = list(
        models.Entry.objects.filter(**conditions)
        .annotate(**_TEXTS)
        .order_by("seq")
        .values_list(*_COLUMNS)
    )
    try:
        facts = _facts.decode("[" + ",".join(row[8] for row in rows) + "]")
        keys = identities([row[0] for row in rows])
        return [
            (
                identity(family),
                Entry(
                    id=key,
                    infant_id=identity(infant) if infant else None,
                    basis=_BASES[basis],
                    true_at=instant(true_at),
                    entered_at=instant(entered_at),
                    entered_by=entered_by,
                    device=device,
                    replaces=UUID(replaces) if replaces else None,
                    fact=fact,
                ),
            )
            for (
                (_, infant, basis, true_at, entered_at, entered_by, device, replaces, _, family),
                key,
                fact,
            ) in zip(rows, keys, facts, strict=True)
        ]
    except msgspec.MsgspecError as error:
        raise StorageError(_unreadable(str(error))) from error
    except (ValueError, KeyError) as error:  # changed past the program; not said with its value
        raise StorageError(_unreadable("a time, number or word that is none")) from error


def related(entries: Sequence[Entry]) -> dict[UUID, tuple[UUID, Entry]]:
    """The stored entries on which it depends whether `entries` may be appended.

    Returns:
        By its id each such entry, with the id of its family.
    """
    found: list[tuple[UUID, Entry]] = []
    named = [entry.replaces for entry in entries if entry.replaces is not None]
    for chunk in _chunks(list(dict.fromkeys([*(entry.id for entry in entries), *named]))):
        found += _entries(id__in=chunk)
        # what replaced those already, and what a withdrawal among them withdrew
        found += _entries(replaces_id__in=chunk)
        found += _entries(replaced_by__id__in=chunk)
    return {entry.id: (owner, entry) for owner, entry in found}


def weighed_up(
    family_id: UUID,
    infant_ids: set[UUID],
    entries: Sequence[Entry],
    stored: dict[UUID, tuple[UUID, Entry]],
    *,
    exact: bool,
) -> tuple[list[Entry], tuple[UUID, ...], list[Problem]]:
    """The entries to store, the ids already there, and all that keeps them from being stored.

    Args:
        family_id: The family that they are said to be of.
        infant_ids: Its infants.
        entries: The entries.
        stored: What :func:`related` found of them, and perhaps of others.
        exact: Whether `entered_at` must agree where an entry is there already.
    """
    fresh, there, problems = _sort_out(family_id, entries, stored, exact=exact)
    known = {key: entry for key, (owner, entry) in stored.items() if owner == family_id}
    return fresh, there, problems + _misfits(infant_ids, fresh, known)


def _sort_out(
    family_id: UUID,
    entries: Iterable[Entry],
    stored: dict[UUID, tuple[UUID, Entry]],
    *,
    exact: bool,
) -> tuple[list[Entry], tuple[UUID, ...], list[Problem]]:
    """The entries to store, the ids already there, and a problem for each id taken otherwise."""
    fresh: dict[UUID, Entry] = {}
    there: dict[UUID, None] = {}
    problems = []
    for entry in entries:
        owner, earlier = stored.get(entry.id, (family_id, fresh.get(entry.id)))
        if earlier is None:
            fresh[entry.id] = entry
        elif owner == family_id and _same(entry, earlier, exact=exact):
            there[entry.id] = None
        else:
            problems.append(_taken_entry(entry))
    return list(fresh.values()), tuple(there), problems


def _same(one: Entry, other: Entry, *, exact: bool) -> bool:
    entered_at = one.entered_at if exact else other.entered_at
    return msgspec.structs.replace(one, entered_at=entered_at) == other


def _misfits(
    infant_ids: set[UUID], fresh: Sequence[Entry], known: dict[UUID, Entry]
) -> list[Problem]:
    """What does not fit together among new entries and those already stored."""
    by_id = {**known, **{entry.id: entry for entry in fresh}}
    newest = {entry.replaces: entry.id for entry in known.values() if entry.replaces is not None}
    problems: list[Problem | None] = []
    for entry in fresh:
        problems += [
            subject_problem(entry, infant_ids),
            replacement_problem(entry, *replaced(entry, by_id)),
            storable_problem(entry),
        ]
        if entry.replaces is not None:
            if entry.replaces in newest:
                problems.append(second_replacement(entry, newest[entry.replaces]))
            newest.setdefault(entry.replaces, entry.id)
    return [problem for problem in problems if problem is not None]


def insert(entries: Sequence[tuple[UUID, Entry]], *, arrival: int | None = None) -> None:
    """Write entries and bind them to their chain; whether they may be was asked before.

    Args:
        entries: Each with the id of its family; all of one family where `arrival` is None.
        arrival: The number of the import that they are of.

    Raises:
        msgspec.ValidationError: A fact holds what its kind does not declare: it could never be read again,
            so nothing of it is written.
    """
    for chunk in _chunks(entries):
        _facts.decode(msgspec.json.encode([entry.fact for _, entry in chunk]))
        rows = models.Entry.objects.bulk_create(
            models.Entry(
                id=str(entry.id),
                family_id=str(family_id),
                infant_id=entry.infant_id,
                kind=kind_of(entry.fact),
                basis=entry.basis.value,
                true_at=entry.true_at.astimezone(UTC),
                entered_at=entry.entered_at.astimezone(UTC),
                entered_by=entry.entered_by,
                device=entry.device,
                replaces_id=entry.replaces,
                fact=msgspec.to_builtins(entry.fact),
                arrival=arrival,
            )
            for family_id, entry in chunk
        )
        bound_to = chunk[0][0].hex if arrival is None else chain.of_import(arrival)
        chain.extend(bound_to, rows, arrival=arrival)


def _chunks(items: Sequence[_Item]) -> Iterator[Sequence[_Item]]:
    return (items[start : start + _CHUNK] for start in range(0, len(items), _CHUNK))


def no_family(family_id: UUID) -> Problem:
    """The problem of asking for a family that is not on the record."""
    return Problem(
        code="RECORD-001",
        what=message("There is no family {family_id}.", family_id=str(family_id)),
        why=message("It was never opened in this record."),
        fix=message("Open the family first, or look it up on the caseload."),
        where="family_id",
    )


def _taken_entry(entry: Entry) -> Problem:
    return Problem(
        code="RECORD-002",
        what=message(
            "The {kind} entry {id} is already there with other content.",
            kind=entry.fact.declared.name,
            id=str(entry.id),
        ),
        why=message("An entry never changes once it is stored."),
        fix=message(
            "Enter a correction: a new entry with an id of its own that replaces this one."
        ),
        where="id",
    )


def taken_otherwise(what: Message) -> Problem:
    """The problem of a family or an infant whose id stands for another one already."""
    return Problem(
        code="RECORD-008",
        what=message("The id of {what} is already there with other content.", what=what),
        why=message("A family, once opened, keeps its infants, and an infant its family."),
        fix=message("Give the new family and its infants new ids."),
        where="id",
    )


def _unreadable(error: str) -> Problem:
    return Problem(
        code="RECORD-010",
        what=message("An entry of this record cannot be read."),
        why=message("This version of the program does not know its form: {error}.", error=error),
        fix=message("Use the version that wrote it, or a newer one. Nothing has been changed."),
    )
