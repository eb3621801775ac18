"""What somebody wants to see of the caseload: whose families, which of them, in which order.

A family is mine where it was passed on to me, or where I entered something for it and it was not
passed on to somebody else since.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.results import Tier
from suffice.care.caseload.listing import CaseloadRow
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of
from suffice.language.times import days_between
from suffice.message import Words
from suffice.record import caseload as shelf
from suffice.record.teams import passed_on

RECENT_FOR: Final = timedelta(days=7)
"""How long a family stays among the recent ones after somebody entered something for it."""
RECENT_MOST: Final = 30


class Which(StrEnum):
    """Whose families are listed."""

    ALL = "all"
    MINE = "mine"
    DUE = "due"
    RECENT = "recent"


class Sort(StrEnum):
    """In which order; LATEST is that of the recent ones."""

    NEED = "need"
    DUE = "due"
    NAME = "name"
    AGE = "age"
    LATEST = "latest"


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked of the caseload.

    Attributes:
        words: Parts of a name; all families are searched then, whatever else is asked.
        setting: Where the family is seen; empty for anywhere.
        tier: Only this group; None for every one.
    """

    which: Which = Which.ALL
    sort: Sort = Sort.NEED
    words: str = ""
    setting: str = ""
    tier: Tier | None = None
    with_discharged: bool = False

    @property
    def with_all(self) -> bool:
        """Whether families that were discharged are looked at too: a name finds them as well."""
        return self.with_discharged or bool(self.words)


class Mine(msgspec.Struct, frozen=True, kw_only=True):
    """The families that somebody has to do with.

    Attributes:
        entered: Those that they entered something for, each with the last time.
        passed_on: Those that were passed on to them.
        looked: Those that they opened, each with the last time.
        left: Those that somebody else has now, each with since when.
    """

    entered: Mapping[UUID, datetime] = {}
    passed_on: frozenset[UUID] = frozenset()
    looked: Mapping[UUID, datetime] = {}
    left: Mapping[UUID, datetime] = {}

    def has(self, family_id: UUID) -> bool:
        """Whether a family is theirs."""
        if family_id in self.passed_on:
            return True
        at = self.entered.get(family_id)
        return at is not None and (family_id not in self.left or at > self.left[family_id])

    def recent(self, now: datetime) -> tuple[UUID, ...]:
        """Those entered for in the last days or looked at, the latest first."""
        last = {one: at for one, at in self.entered.items() if now - at < RECENT_FOR}
        for one, at in self.looked.items():
            last[one] = max(at, last.get(one, at))
        return tuple(sorted(last, key=lambda one: last[one], reverse=True)[:RECENT_MOST])


def mine_of(name: str, looked: Mapping[UUID, datetime] | None = None, *, user_id: int = 0) -> Mine:
    """The families of somebody, in two queries.

    Args:
        name: The name to sign in with: entries are made under it.
        looked: The families that they opened, each with the last time.
        user_id: The number of the user; 0 where nothing can have been passed on to them.
    """
    placed = passed_on()
    return Mine(
        entered=shelf.entered_by(name),
        passed_on=frozenset(one for one, (user, _) in placed.items() if user == user_id),
        looked=looked or {},
        left={one: at for one, (user, at) in placed.items() if user != user_id},
    )


def chosen(
    rows: Sequence[CaseloadRow], choice: Choice, policy: Policy, now: datetime, mine: Mine
) -> list[CaseloadRow]:
    """The rows that were asked for, in the order that was asked for.

    Args:
        rows: The caseload in the order of need, with the discharged where `choice` wants them.
        choice: What was asked.
        policy: The clinic's policy: its zone says what is today, its words how a name reads.
        now: The instant.
        mine: Needed for the lists of one's own and of the recent ones.
    """
    if choice.words:
        kept = [row for row in rows if _has_name(row, choice.words, policy)]
    else:
        kept = [
            row
            for row in rows
            if (not choice.setting or (row.setting and row.setting.value == choice.setting))
            and (choice.tier is None or row.tier == choice.tier)
        ]
        kept = _of_list(kept, choice.which, policy, now, mine)
    return _ordered(kept, choice.sort, policy, mine.recent(now))


def _of_list(
    rows: list[CaseloadRow], which: Which, policy: Policy, now: datetime, mine: Mine
) -> list[CaseloadRow]:
    if which is Which.MINE:
        return [row for row in rows if mine.has(row.family_id)]
    if which is Which.RECENT:
        recent = set(mine.recent(now))
        return [row for row in rows if row.family_id in recent]
    if which is Which.DUE:
        zone = ZoneInfo(policy.zone)
        return [
            row for row in rows if row.next_due_at and days_between(now, row.next_due_at, zone) <= 0
        ]
    return rows


def _ordered(
    rows: Iterable[CaseloadRow], sort: Sort, policy: Policy, recent: Sequence[UUID]
) -> list[CaseloadRow]:
    """In the order asked for; equals stay in the order of need."""
    if sort is Sort.NAME:
        return sorted(rows, key=lambda row: folded(_name_text(row.name, policy)))
    if sort is Sort.DUE:
        return sorted(rows, key=lambda row: (row.next_due_at is None, _seconds(row.next_due_at)))
    if sort is Sort.AGE:
        return sorted(rows, key=lambda row: (_born(row) is None, -_seconds(_born(row))))
    if sort is Sort.LATEST:
        places = {family_id: place for place, family_id in enumerate(recent)}
        return sorted(rows, key=lambda row: places.get(row.family_id, len(places)))
    return list(rows)


def _born(row: CaseloadRow) -> datetime | None:
    return max((one.born_at for one in row.infants if one.born_at), default=None)


def _seconds(at: datetime | None) -> float:
    return at.timestamp() if at else 0.0


def _has_name(row: CaseloadRow, words: str, policy: Policy) -> bool:
    names = folded(" ".join(_name_text(one, policy) for one in (row.name, *_names(row))))
    return all(word in names for word in folded(words).split())


def _names(row: CaseloadRow) -> Iterable[Words]:
    return (infant.name for infant in row.infants)


def _name_text(name: Words, policy: Policy) -> str:
    return text_of(name, policy)


def folded(text: str) -> str:
    """A text as it is compared: without case and without accents, as it is typed in haste."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    return "".join(one for one in parts if not unicodedata.combining(one))
