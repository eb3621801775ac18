"""What checks of the chains came to, as it is kept: the damage that is known, and when it was looked for."""

from __future__ import annotations

from collections.abc import Container, Iterable
from datetime import datetime
from uuid import UUID

import msgspec

from suffice.record import accepted, clock, models
from suffice.record.damage import ACCEPTED
from suffice.record.repository import one_transaction
from suffice.record.verify import Checked, Found, Wrong

KEPT = 400
"""Checks that are kept: of more than a year, one a night."""


class Last(msgspec.Struct, frozen=True, kw_only=True):
    """The latest whole check."""

    began_at: datetime
    ended_at: datetime
    link_count: int
    row_count: int
    damage_count: int


def keep(checked: Checked, *, began_at: datetime, ended_at: datetime) -> None:
    """Keep what a whole check came to in place of what was known before.

    Raises:
        StorageError: RECORD-009.
    """
    with one_transaction():
        models.Damage.objects.exclude(code=clock.CODE).delete()
        answered = accepted.among(checked.found)
        _add(checked.found, answered)
        made = models.Verification.objects.create(
            began_at=began_at,
            ended_at=ended_at,
            link_count=checked.link_count,
            row_count=checked.row_count,
            damage_count=len(checked.found),
        )
        models.Verification.objects.filter(number__lte=made.number - KEPT).delete()


def add(found: tuple[Found, ...]) -> None:
    """Keep damage that a quick look has found, besides what is known, accepted or not."""
    rows = models.Damage.objects.values_list("code", "form", "key")
    known = {(code.removeprefix(ACCEPTED), form, key) for code, form, key in rows}
    _add([one for one in found if (one.wrong, one.form, one.key) not in known], ())


def _add(found: Iterable[Found], answered: Container[Found]) -> None:
    models.Damage.objects.bulk_create(
        models.Damage(
            code=f"{ACCEPTED if one in answered else ''}{one.wrong}",
            form=one.form,
            key=one.key,
            family_id=one.family and UUID(one.family),
        )
        for one in found
    )


def last() -> Last | None:
    """The latest whole check; None before there was any."""
    row = models.Verification.objects.order_by("-number").first()
    if row is None:
        return None
    return Last(
        began_at=row.began_at,
        ended_at=row.ended_at,
        link_count=row.link_count,
        row_count=row.row_count,
        damage_count=row.damage_count,
    )


def known() -> tuple[Found, ...]:
    """The damage that is known and that nobody answers for."""
    rows = models.Damage.objects.exclude(code=clock.CODE).exclude(code__startswith=ACCEPTED)
    return tuple(
        Found(
            wrong=Wrong(row.code),
            form=row.form,
            key=row.key,
            family=None if row.family_id is None else row.family_id.hex,
        )
        for row in rows.order_by("number")
    )


def accepted_count() -> int:
    """How much of the damage that is known somebody answers for."""
    return models.Damage.objects.filter(code__startswith=ACCEPTED).count()
