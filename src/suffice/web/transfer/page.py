"""A family file as it will be imported: who is in it, what is new, from when to when."""

from __future__ import annotations

from datetime import datetime

import msgspec

from suffice.care.family.transfer import FamilyPreview
from suffice.clinical.entry import Birth
from suffice.knowledge.policy import Policy
from suffice.language.kinds import KINDS
from suffice.web.shown.people import names_of
from suffice.web.shown.wording import as_heading


class InfantLine(msgspec.Struct, frozen=True, kw_only=True):
    """An infant of the file."""

    name: str
    born_at: datetime | None


class KindLine(msgspec.Struct, frozen=True, kw_only=True):
    """The entries of one kind."""

    what: str
    new_count: int
    there_count: int
    first_at: datetime
    last_at: datetime


class FamilyFilePage(msgspec.Struct, frozen=True, kw_only=True):
    """What the page shows before anything is stored."""

    preview: FamilyPreview
    parent: str
    infants: tuple[InfantLine, ...]
    kinds: tuple[KindLine, ...]
    first_at: datetime | None
    last_at: datetime | None


def family_file_page(preview: FamilyPreview, policy: Policy) -> FamilyFilePage:
    """The page of a family file.

    Args:
        preview: What importing it would come to.
        policy: The clinic's policy, for its word for the parent.
    """
    record, kinds = preview.record, preview.kinds
    last_at = max((kind.last_at for kind in kinds), default=None)
    named = names_of(record, last_at, policy) if last_at else {}
    births = {
        entry.infant_id: entry.true_at
        for entry in (record.standing(last_at) if last_at else ())
        if isinstance(entry.fact, Birth)
    }
    order = list(KINDS)
    return FamilyFilePage(
        preview=preview,
        parent=named.get(None, ""),
        infants=tuple(
            InfantLine(name=named.get(one.id, f"{one.position}"), born_at=births.get(one.id))
            for one in record.infants
        ),
        kinds=tuple(
            KindLine(
                what=as_heading(KINDS[kind.kind]),
                new_count=kind.new_count,
                there_count=kind.there_count,
                first_at=kind.first_at,
                last_at=kind.last_at,
            )
            for kind in sorted(kinds, key=lambda kind: order.index(kind.kind))
        ),
        first_at=min((kind.first_at for kind in kinds), default=None),
        last_at=last_at,
    )
