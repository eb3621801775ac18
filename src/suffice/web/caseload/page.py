"""The caseload as the page shows it: filtered, counted by tier, one page of rows in words."""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from typing import Final
from uuid import UUID

import msgspec
from django.utils.translation import gettext as _

from suffice.assess.results import Tier
from suffice.care.caseload.listing import Caseload, CaseloadRow, Outdated
from suffice.care.caseload.rows import InfantLine
from suffice.clinical.age import elapsed_h
from suffice.web.shown.fact import setting_word
from suffice.web.shown.mark import Mark, tier_mark
from suffice.web.shown.wording import Wording, called, in_sentences

ROWS_PER_PAGE: Final = 50
TIER_NAMES: Final = {tier.name.lower().replace("_", "-"): tier for tier in Tier}


class Filter(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked of the caseload."""

    words: str = ""
    setting: str = ""
    tier: str = ""
    with_discharged: bool = False
    page: int = 1

    def keeps(self, row: CaseloadRow) -> bool:
        """Whether a row has the name and the setting that were asked for; the tier comes after."""
        if self.setting and (row.setting is None or row.setting.value != self.setting):
            return False
        if not self.words:
            return True
        names = " ".join(
            str(name) for name in (row.name, *(infant.name for infant in row.infants))
        ).casefold()
        return all(word in names for word in self.words.casefold().split())


class InfantShown(msgspec.Struct, frozen=True, kw_only=True):
    """An infant on the caseload."""

    name: str
    age: str
    weight: str
    weight_when: str


class RowShown(msgspec.Struct, frozen=True, kw_only=True):
    """A family on the caseload, in words."""

    place: int
    family_id: UUID
    name: str
    mark: Mark
    reason: str
    setting: str
    infants: tuple[InfantShown, ...]
    due: str
    is_overdue: bool
    outdated: str
    discharged: bool


class TierCount(msgspec.Struct, frozen=True, kw_only=True):
    """How many families stand in a tier."""

    name: str
    mark: Mark
    count: int


class CaseloadShown(msgspec.Struct, frozen=True, kw_only=True):
    """One page of the caseload."""

    rows: tuple[RowShown, ...]
    tiers: tuple[TierCount, ...]
    found_count: int
    all_count: int
    outdated_count: int
    page: int
    pages_count: int


def caseload_page(
    caseload: Caseload, asked: Filter, wording: Wording, now: datetime
) -> CaseloadShown:
    """One page of the caseload.

    Args:
        caseload: Every family in order.
        asked: What to show of it.
        wording: How the clinic reads numbers and times.
        now: The instant, for ages.
    """
    kept = [row for row in caseload.rows if asked.keeps(row)]
    counts = Counter(row.tier for row in kept)
    shown = [row for row in kept if not asked.tier or row.tier == TIER_NAMES.get(asked.tier)]
    pages_count = max(1, -(-len(shown) // ROWS_PER_PAGE))
    number = min(max(asked.page, 1), pages_count)
    start = (number - 1) * ROWS_PER_PAGE
    return CaseloadShown(
        rows=tuple(_row(row, wording, now) for row in shown[start : start + ROWS_PER_PAGE]),
        tiers=tuple(
            TierCount(name=name, mark=tier_mark(tier), count=counts[tier])
            for name, tier in TIER_NAMES.items()
        ),
        found_count=len(shown),
        all_count=len(caseload.rows),
        outdated_count=caseload.outdated_count,
        page=number,
        pages_count=pages_count,
    )


def _row(row: CaseloadRow, wording: Wording, now: datetime) -> RowShown:
    due = row.next_due_at
    return RowShown(
        place=row.place,
        family_id=row.family_id,
        name=called(row.name) or _("Family without a name"),
        mark=tier_mark(row.tier),
        reason=in_sentences(row.reason),
        setting=str(setting_word(row.setting)),
        infants=tuple(
            _infant(infant, wording, now, alone=len(row.infants) == 1) for infant in row.infants
        ),
        due=wording.short_when(due) if due else "",
        is_overdue=due is not None and due < now,
        outdated=_outdated(row, wording),
        discharged=row.discharged,
    )


def _infant(infant: InfantLine, wording: Wording, now: datetime, *, alone: bool) -> InfantShown:
    born = infant.born_at
    return InfantShown(
        name="" if alone else called(infant.name),
        age=wording.age(elapsed_h(born, now)) if born and born <= now else "",
        weight="" if infant.weight_g is None else str(wording.weight(infant.weight_g)),
        weight_when=wording.short_when(infant.weight_at) if infant.weight_at else "",
    )


def _outdated(row: CaseloadRow, wording: Wording) -> str:
    if row.outdated is None or row.as_of is None:
        return ""
    reasons: dict[Outdated, str] = {
        Outdated.NEW_ENTRIES: _("new entries since"),
        Outdated.TIME: _("time has passed since"),
        Outdated.RULES: _("settings have changed since"),
    }
    why = reasons.get(row.outdated, "")
    return _("As of %(when)s; %(why)s") % {"when": wording.short_when(row.as_of), "why": why}
