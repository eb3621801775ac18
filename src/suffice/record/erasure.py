"""Erasing a family: asked for by one person, done by another, and nothing left but that it was done.

The database lets the rows of a family go only once its :class:`Erasure` is there, and takes no erasure
that names one person twice (append_only.py, models.py). What stays: the erasure, which is chained
like all that is appended, and in links of imports and on the trail ids and digests.
"""
# ruff: noqa: S608 -- all SQL is put together from names of our own tables and columns

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from uuid import UUID

import msgspec
from django.db import connection

from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import chain, damage, models, wiping
from suffice.record.repository import no_family, one_transaction


class Request(msgspec.Struct, frozen=True, kw_only=True):
    """That somebody asks for a family to be erased; `why` is a word of care/family/erasing.py."""

    family_id: UUID
    at: datetime
    by: str
    why: str


class Erased(msgspec.Struct, frozen=True, kw_only=True):
    """That a family was erased: who asked when and why, who did it when, how many entries it had."""

    family_id: UUID
    asked_at: datetime
    asked_by: str
    why: str
    erased_at: datetime
    erased_by: str
    entry_count: int = 0


def ask(request: Request) -> bool:
    """Keep a request; False where there is one already.

    Raises:
        InputError: RECORD-001, when there is no such family.
    """
    with one_transaction():
        if not models.Family.objects.filter(id=request.family_id).exists():
            raise InputError(no_family(request.family_id))
        _row, is_new = models.ErasureRequest.objects.get_or_create(
            family_id=str(request.family_id),
            defaults={
                "asked_at": request.at.astimezone(UTC),
                "asked_by": request.by,
                "why": request.why,
            },
        )
    return is_new


def take_back(family_id: UUID) -> bool:
    """Let a request go; False where there was none."""
    with one_transaction():
        gone, _each = models.ErasureRequest.objects.filter(family_id=str(family_id)).delete()
    return bool(gone)


def requests() -> tuple[Request, ...]:
    """What is asked for and not done yet, the oldest first."""
    rows = models.ErasureRequest.objects.order_by("asked_at")
    return tuple(
        Request(family_id=one.family_id, at=one.asked_at, by=one.asked_by, why=one.why)
        for one in rows
    )


def request_of(family_id: UUID) -> Request | None:
    """What is asked for a family; None where nothing is."""
    return next((one for one in requests() if one.family_id == family_id), None)


def erase(family_id: UUID, *, by: str, now: datetime) -> Erased:
    """Erase a family for whose erasure somebody else has asked.

    Raises:
        InputError: RECORD-001; RECORD-016, when nobody has asked, or nobody else.
        DamageError: RECORD-014: a damaged record is kept as it was found.
        StorageError: RECORD-009; nothing was erased.
    """
    damage.refuse([family_id])
    with one_transaction():
        if not models.Family.objects.select_for_update().filter(id=family_id).exists():
            raise InputError(no_family(family_id))
        asked = models.ErasureRequest.objects.select_for_update().filter(family_id=str(family_id))
        request = asked.first()
        if request is None or request.asked_by == by:
            raise InputError(_one_person())
        done = Erased(
            family_id=family_id,
            asked_at=request.asked_at,
            asked_by=request.asked_by,
            why=request.why,
            erased_at=now.astimezone(UTC),
            erased_by=by,
            entry_count=models.Entry.objects.filter(family_id=str(family_id)).count(),
        )
        wiping.owe()
        _put(done)
    wiping.wipe()
    return done


def erase_again(done: Erased) -> bool:
    """Erase in a record that was restored what had been erased since; False where that stands already."""
    with one_transaction():
        if models.Erasure.objects.filter(family_id=done.family_id).exists():
            return False
        wiping.owe()
        _put(done)
    return True


def _put(done: Erased) -> None:
    head = models.ChainHead.objects.filter(chain=done.family_id.hex).first()
    row = models.Erasure.objects.create(
        **msgspec.structs.asdict(done),
        chain_number=0 if head is None else head.number,
        chain_hash="" if head is None else head.hash,
    )
    chain.extend(chain.ERASURES, [row])
    with connection.cursor() as cursor:
        for table, column in wiping.OF_FAMILY:
            key: UUID | str = done.family_id
            if connection.vendor == "sqlite" or column == "chain":
                key = done.family_id.hex
            cursor.execute(f"DELETE FROM {table} WHERE {column} = %s", [key])


def every() -> Iterator[Erased]:
    """Every family that was erased, the first first; none where the tables are from before erasures."""
    if models.Erasure._meta.db_table not in connection.introspection.table_names():  # noqa: SLF001
        return
    names = [field.name for field in msgspec.structs.fields(Erased)]
    for values in models.Erasure.objects.order_by("number").values(*names):
        yield Erased(**values)


def families_since(since: datetime) -> tuple[UUID, ...]:
    """The families that were erased from an instant on."""
    found = models.Erasure.objects.filter(erased_at__gte=since).order_by("number")
    return tuple(found.values_list("family_id", flat=True))


def _one_person() -> Problem:
    return Problem(
        code="RECORD-016",
        what=message("This family was not erased."),
        why=message("Two people erase a family: one asks for it, another one confirms it."),
        fix=message("Ask a colleague who may confirm it."),
    )
