"""The caseload as the page shows it: chosen, by group, one page of rows in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from itertools import groupby
from typing import Final
from urllib.parse import urlencode
from uuid import UUID

import msgspec
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from suffice.assess.results import Tier
from suffice.care.caseload.choosing import Choice, Mine, Sort, Which, chosen
from suffice.care.caseload.listing import Caseload, CaseloadRow, Outdated
from suffice.care.caseload.rows import InfantLine
from suffice.clinical.age import elapsed_h
from suffice.message import holds_instant
from suffice.web.shown.fact import setting_word
from suffice.web.shown.mark import Mark, tier_mark
from suffice.web.shown.wording import Moment, Wording, called, in_sentences

ROWS_PER_PAGE: Final = 50
TIER_NAMES: Final = {tier.name.lower().replace("_", "-"): tier for tier in Tier}


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What the request asked for: the choice, and how much of it is shown."""

    choice: Choice = Choice()
    page: int = 1
    whole: bool = False

    @property
    def tier(self) -> str:
        """The group that was asked for, as it stands in an address; empty for every one."""
        return next((name for name, one in TIER_NAMES.items() if one is self.choice.tier), "")

    @property
    def count(self) -> int:
        """How many filters are set beside the list itself."""
        choice = self.choice
        usual = usual_sort(choice.which)
        return sum(
            (
                bool(choice.setting),
                choice.tier is not None,
                choice.with_discharged,
                choice.sort is not usual,
            )
        )

    def query(self, *, which: Which | None = None, page: int = 1, whole: bool = False) -> str:
        """An address of the list: the same choice, another list or page. No name is ever in it."""
        choice = self.choice
        list_ = choice.which if which is None else which
        sort = choice.sort if choice.sort is not usual_sort(choice.which) else usual_sort(list_)
        parts = {
            "list": "" if list_ is Which.ALL else list_.value,
            "sort": "" if sort is usual_sort(list_) else sort.value,
            "setting": choice.setting,
            "tier": self.tier,
            "discharged": "1" if choice.with_discharged else "",
            "page": str(page) if page > 1 else "",
            "whole": "1" if whole else "",
        }
        return urlencode({name: value for name, value in parts.items() if value})


def usual_sort(which: Which) -> Sort:
    """The order of a list unless another is asked for."""
    return Sort.LATEST if which is Which.RECENT else Sort.NEED


class InfantShown(msgspec.Struct, frozen=True, kw_only=True):
    """An infant on the caseload."""

    name: str
    age: str
    weight: str
    weighed: Moment | None
    has_died: bool = False


class RowShown(msgspec.Struct, frozen=True, kw_only=True):
    """A family on the caseload, in words."""

    place: int
    family_id: UUID
    name: str
    mark: Mark
    reason: str
    reason_on_paper: str
    setting: str
    ages: tuple[str, ...]
    infants: tuple[InfantShown, ...]
    due: Moment | None
    is_overdue: bool
    outdated: str
    discharged: bool


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """The families of one level, one after another; without a mark where the order is another."""

    mark: Mark | None
    count: int
    rows: tuple[RowShown, ...]


class CaseloadShown(msgspec.Struct, frozen=True, kw_only=True):
    """One page of the caseload."""

    groups: tuple[Group, ...]
    title: str
    found: str
    all_count: int
    outdated_count: int
    page: int
    pages_count: int
    order: tuple[UUID, ...]


def caseload_page(
    caseload: Caseload, asked: Asked, wording: Wording, now: datetime, mine: Mine
) -> CaseloadShown:
    """One page of the caseload.

    Args:
        caseload: Every family in the order of need.
        asked: What to show of it.
        wording: How the clinic reads numbers and times.
        now: The instant, for ages and for what is today.
        mine: The families of whoever asks.
    """
    shown = chosen(caseload.rows, asked.choice, wording.policy, now, mine)
    counts = Counter(row.tier for row in shown)
    pages_count = 1 if asked.whole else max(1, -(-len(shown) // ROWS_PER_PAGE))
    number = min(max(asked.page, 1), pages_count)
    start = (number - 1) * ROWS_PER_PAGE
    rows = shown if asked.whole else shown[start : start + ROWS_PER_PAGE]
    by_name = bool(asked.choice.words)
    if asked.choice.sort is Sort.NEED:
        groups = tuple(
            Group(
                mark=tier_mark(tier),
                count=counts[tier],
                rows=tuple(_row(row, wording, now, by_name=by_name) for row in members),
            )
            for tier, members in groupby(rows, key=lambda row: row.tier)
        )
    else:
        all_rows = tuple(_row(row, wording, now, by_name=by_name) for row in rows)
        groups = (Group(mark=None, count=len(shown), rows=all_rows),) if rows else ()
    return CaseloadShown(
        groups=groups,
        title=title_of(asked.choice),
        found=_found(len(shown), caseload.outdated_count),
        all_count=len(caseload.rows),
        outdated_count=caseload.outdated_count,
        page=number,
        pages_count=pages_count,
        order=tuple(row.family_id for row in shown[start:]),
    )


def list_names() -> Sequence[tuple[Which, str]]:
    """The lists and what each is called where there is little room."""
    return (
        (Which.ALL, _("All families")),
        (Which.MINE, _("Mine")),
        (Which.DUE, _("Due today")),
        (Which.RECENT, _("Recent")),
    )


def sort_names(which: Which) -> Sequence[tuple[Sort, str]]:
    """The orders of a list and what each is called."""
    latest = ((Sort.LATEST, _("Last opened or entered")),) if which is Which.RECENT else ()
    return (
        *latest,
        (Sort.NEED, _("Need")),
        (Sort.DUE, _("Next contact")),
        (Sort.NAME, _("Name")),
        (Sort.AGE, _("Age, youngest first")),
    )


def title_of(choice: Choice) -> str:
    """What is listed."""
    if choice.words:
        return _("Found by name")
    return {
        Which.ALL: _("All families"),
        Which.MINE: _("My families"),
        Which.DUE: _("Due today"),
        Which.RECENT: _("Recent families"),
    }[choice.which]


def _found(count: int, outdated_count: int) -> str:
    found = ngettext("%(n)s family", "%(n)s families", count) % {"n": count}
    if not outdated_count:
        return found
    waiting = ngettext(
        "%(n)s is being brought up to date",
        "%(n)s are being brought up to date",
        outdated_count,
    ) % {"n": outdated_count}
    return f"{found}; {waiting}"


def _row(row: CaseloadRow, wording: Wording, now: datetime, *, by_name: bool = False) -> RowShown:
    """A row; found by name it says the infant's too, for that may be the one that was meant."""
    due = row.next_due_at
    alone = len(row.infants) == 1 and not by_name
    infants = tuple(_infant(infant, wording, now, alone=alone) for infant in row.infants)
    why = row.reason
    reason = in_sentences(why, now)
    on_paper = in_sentences(why, now, keeps=True) if any(map(holds_instant, why)) else reason
    return RowShown(
        place=row.place,
        family_id=row.family_id,
        name=called(row.name) or _("Family without a name"),
        mark=tier_mark(row.tier),
        reason=reason,
        reason_on_paper=on_paper,
        setting=str(setting_word(row.setting)),
        ages=tuple(dict.fromkeys(one.age for one in infants if one.age)),
        infants=infants,
        due=wording.due_moment(due, now) if due else None,
        is_overdue=due is not None and due < now,
        outdated=_outdated(row, wording, now),
        discharged=row.discharged,
    )


def _infant(infant: InfantLine, wording: Wording, now: datetime, *, alone: bool) -> InfantShown:
    born = infant.born_at
    at = infant.weight_at
    if infant.died_at is not None:
        name = "" if alone else called(infant.name)
        return InfantShown(name=name, age="", weight="", weighed=None, has_died=True)
    return InfantShown(
        name="" if alone else called(infant.name),
        age=wording.age(elapsed_h(born, now)) if born and born <= now else _("age not known"),
        weight="" if infant.weight_g is None else str(wording.weight(infant.weight_g)),
        weighed=wording.past_moment(at, now) if at else None,
    )


def _outdated(row: CaseloadRow, wording: Wording, now: datetime) -> str:
    if row.outdated is None or row.as_of is None:
        return ""
    reasons: dict[Outdated, str] = {
        Outdated.NEW_ENTRIES: _("new entries since"),
        Outdated.TIME: _("time has passed since"),
        Outdated.RULES: _("settings have changed since"),
    }
    why = reasons.get(row.outdated, "")
    return _("As of %(when)s; %(why)s") % {
        "when": wording.near(row.as_of, now, keeps=True),
        "why": why,
    }
