"""Every entry of a family, the latest first; what was corrected stays and says by what."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from itertools import groupby
from typing import Any, Final
from uuid import UUID

import msgspec
from django.utils.translation import gettext as _

from suffice.care.family.asking import Imported
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Record, Withdrawal, kind_of
from suffice.language.times import clock_text
from suffice.web.shown.fact import describe, kind_word, value_word
from suffice.web.shown.wording import Wording

ENTRIES_PER_PAGE: Final = 60


class EntryShown(msgspec.Struct, frozen=True, kw_only=True):
    """One entry in words."""

    id: UUID
    kind: str
    kind_word: str
    what: str
    whose: str
    true_at: datetime
    day: str
    clock: str
    basis: str
    entered_at: datetime
    entered_by: str
    imported: Imported | None
    device: str
    state: str
    stands: bool
    replaces: str
    can_correct: bool


class DayShown(msgspec.Struct, frozen=True, kw_only=True):
    """The entries of one local day, the latest first."""

    day: str
    entries: tuple[EntryShown, ...]


class TimeLine(msgspec.Struct, frozen=True, kw_only=True):
    """One page of the time line."""

    entries: tuple[EntryShown, ...]
    all_count: int
    page: int
    next_page: int | None

    @property
    def days(self) -> tuple[DayShown, ...]:
        """The entries by local day."""
        by_day = groupby(self.entries, key=lambda one: one.day)
        return tuple(DayShown(day=day, entries=tuple(found)) for day, found in by_day)


def time_line(
    record: Record,
    names: Mapping[UUID | None, str],
    wording: Wording,
    *,
    imported: Mapping[UUID, Imported],
    page: int = 1,
) -> TimeLine:
    """One page of a family's entries, the latest first.

    Args:
        record: The whole record.
        names: Infant id to name; None for the parent.
        wording: How the clinic reads numbers and times.
        imported: Of each imported entry, who brought it here and when.
        page: From 1.
    """
    by_id = {entry.id: entry for entry in record.entries}
    replaced_by = {e.replaces: e for e in record.entries if e.replaces is not None}
    shown = [e for e in record.entries if not isinstance(e.fact, Withdrawal)]
    shown.sort(key=lambda entry: (entry.true_at, entry.entered_at, str(entry.id)), reverse=True)
    start = (page - 1) * ENTRIES_PER_PAGE
    chosen = shown[start : start + ENTRIES_PER_PAGE]
    return TimeLine(
        entries=tuple(
            _shown(
                entry,
                by_id.get(entry.replaces) if entry.replaces else None,
                replaced_by.get(entry.id),
                names,
                wording,
                imported.get(entry.id),
            )
            for entry in chosen
        ),
        all_count=len(shown),
        page=page,
        next_page=page + 1 if start + ENTRIES_PER_PAGE < len(shown) else None,
    )


def _shown(
    entry: Entry,
    former: Entry | None,
    later: Entry | None,
    names: Mapping[UUID | None, str],
    wording: Wording,
    imported: Imported | None,
) -> EntryShown:
    return EntryShown(
        id=entry.id,
        kind=kind_of(entry.fact).replace(" ", "-"),
        kind_word=kind_word(entry.fact),
        what=describe(entry.fact, wording),
        whose=names.get(entry.infant_id, ""),
        true_at=entry.true_at,
        day=wording.day(entry.true_at),
        clock=_clock(entry.true_at, wording),
        basis=value_word(entry.basis.value),
        entered_at=entry.entered_at,
        entered_by=entry.entered_by,
        imported=imported if imported and _differs(entry, imported) else None,
        device=entry.device or "",
        state=_state(later, wording),
        stands=later is None,
        replaces=_("Corrects: %(what)s") % {"what": describe(former.fact, wording)}
        if former
        else "",
        can_correct=later is None and not entry.fact.declared.is_final,
    )


SAME_H = 1.0
"""An import of a table enters its rows when it begins; it has come within the hour."""


def _differs(entry: Entry, imported: Imported) -> bool:
    """Whether an entry came by another hand, or at another time, than it says."""
    late_h = elapsed_h(entry.entered_at, imported.at)
    return imported.by != entry.entered_by or late_h > SAME_H


def _clock(instant: datetime, wording: Wording) -> str:
    """The time of day on the clinic's clock; the zone's name where the clock shows it twice."""
    return clock_text(instant, wording.zone)


def _state(later: Entry | None, wording: Wording) -> str:
    if later is None:
        return ""
    who: dict[str, Any] = {"who": later.entered_by, "when": wording.when(later.entered_at)}
    if isinstance(later.fact, Withdrawal):
        return _("Withdrawn by %(who)s, %(when)s: %(why)s") % {**who, "why": later.fact.reason}
    return _("Corrected by %(who)s, %(when)s: %(what)s") % {
        **who,
        "what": describe(later.fact, wording),
    }
