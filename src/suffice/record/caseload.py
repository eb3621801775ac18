"""Caseload rows: what the caseload is listed from, read and written in few queries."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.db.models import F, IntegerField, Max, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Cast, Coalesce

from suffice.record import models
from suffice.record.repository import one_transaction
from suffice.record.row_text import as_text, identities, instant
from suffice.record.teams import within
from suffice.record.values import ORDER_LENGTH, CaseloadRow, FamilyLine

_ORDER = tuple(f"order_{n}" for n in range(1, ORDER_LENGTH + 1))
_FIELDS = (
    "record_seq",
    "content_version",
    "engine_version",
    "policy_version",
    "as_of",
    "valid_until",
    "discharged",
    "tier",
    *_ORDER,
    "reason",
    "payload",
)
_TEXTS = {
    "id_text": as_text("id"),
    "as_of_text": as_text("caseload_row__as_of"),
    "valid_until_text": as_text("caseload_row__valid_until"),
}
_DISCHARGED = Cast("caseload_row__discharged", IntegerField())
"""As a number: SQLite has no other truth, and to make one of it for each row takes longer than to read it."""
_COLUMNS = (
    "id_text",
    "latest",
    "as_of_text",
    "valid_until_text",
    "caseload_row__record_seq",
    "caseload_row__content_version",
    "caseload_row__engine_version",
    "caseload_row__policy_version",
    "is_discharged",
    "caseload_row__tier",
    "caseload_row__reason",
    "caseload_row__payload",
)
_IN_ORDER = tuple(f"caseload_row__{name}" for name in _ORDER)


def families(
    *,
    with_discharged: bool = False,
    with_order: bool = True,
    team_ids: Collection[UUID] | None = None,
) -> list[FamilyLine]:
    """The families on the list in caseload order, in one query; of some teams only, if they are named.

    Whoever goes by that order needs not the numbers that it comes from: without `with_order` they are left.
    A family without a row comes last; so does, within its tier, the younger of two equals.
    A discharged family is left out only as long as nothing was entered since: it may be back.
    """
    rows = within(_with_latest(), team_ids).order_by(
        F("caseload_row__tier").asc(nulls_last=True),
        *_IN_ORDER,
        "opened_at",
        "id",
    )
    if not with_discharged:
        rows = rows.exclude(caseload_row__discharged=True, caseload_row__record_seq=F("latest"))
    columns = (*_COLUMNS, *_IN_ORDER) if with_order else _COLUMNS
    found = list(rows.annotate(**_TEXTS, is_discharged=_DISCHARGED).values_list(*columns))
    return list(map(_line, identities([row[0] for row in found]), found))


def entered_by(name: str) -> dict[UUID, datetime]:
    """The families somebody entered something for, each with the last time; in one query.

    Args:
        name: The name under which the entries were made.
    """
    found = models.Entry.objects.filter(entered_by=name).values("family_id")
    return dict(found.annotate(last=Max("entered_at")).values_list("family_id", "last"))


def stale(
    *, at: datetime, content_version: str, engine_version: str, policy_version: int
) -> tuple[UUID, ...]:
    """The families whose row is missing or no longer holds at an instant, in one query."""
    holds = Q(
        caseload_row__record_seq=F("latest"),
        caseload_row__content_version=content_version,
        caseload_row__engine_version=engine_version,
        caseload_row__policy_version=policy_version,
        caseload_row__as_of__lte=at,
        caseload_row__valid_until__gt=at,
    )
    found = _with_latest().filter(Q(caseload_row__isnull=True) | ~holds)
    return tuple(found.order_by("opened_at", "id").values_list("id", flat=True))


def put_rows(caseload_rows: Iterable[CaseloadRow]) -> None:
    """Store caseload rows, each in the place of the family's former one."""
    rows = [_row(stored) for stored in caseload_rows]
    with one_transaction():
        models.CaseloadRow.objects.bulk_create(
            rows,
            batch_size=500,
            update_conflicts=True,
            unique_fields=["family"],
            update_fields=_FIELDS,
        )


def forget_rows(family_ids: Collection[UUID] | None = None) -> None:
    """Drop the caseload rows of some families, or of all: care computes them again."""
    rows = models.CaseloadRow.objects.all()
    with one_transaction():
        (rows if family_ids is None else rows.filter(family_id__in=family_ids)).delete()


def _with_latest() -> QuerySet[models.Family]:
    newest = models.Entry.objects.filter(family_id=OuterRef("id")).order_by("-seq").values("seq")
    return models.Family.objects.annotate(latest=Coalesce(Subquery(newest[:1]), 0))


def _line(family_id: UUID, row: tuple[Any, ...]) -> FamilyLine:
    """A row of _COLUMNS, with or without its order behind, as a value."""
    stored = None
    if row[2] is not None:
        stored = CaseloadRow(
            family_id=family_id,
            as_of=instant(row[2]),
            valid_until=instant(row[3]),
            record_seq=row[4],
            content_version=row[5],
            engine_version=row[6],
            policy_version=row[7],
            discharged=bool(row[8]),
            tier=row[9],
            reason=row[10],
            payload=row[11],
            order=row[12:],
        )
    return FamilyLine(family_id=family_id, latest_seq=row[1], row=stored)


def _row(stored: CaseloadRow) -> models.CaseloadRow:
    if len(stored.order) > ORDER_LENGTH or not all(map(math.isfinite, stored.order)):
        raise ValueError(f"an order is at most {ORDER_LENGTH} finite numbers: {stored.order}")
    filled = (*stored.order, *(0.0,) * (ORDER_LENGTH - len(stored.order)))
    return models.CaseloadRow(
        family_id=stored.family_id,
        record_seq=stored.record_seq,
        content_version=stored.content_version,
        engine_version=stored.engine_version,
        policy_version=stored.policy_version,
        as_of=stored.as_of.astimezone(UTC),
        valid_until=stored.valid_until.astimezone(UTC),
        discharged=stored.discharged,
        tier=stored.tier,
        reason=stored.reason,
        payload=stored.payload,
        **dict(zip(_ORDER, filled, strict=True)),
    )
