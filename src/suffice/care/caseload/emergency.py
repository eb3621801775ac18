"""Opening a family of another team in an emergency: for a reason, for a few hours, seen by its leads."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from suffice.care.caseload.choosing import folded
from suffice.care.caseload.listing import CaseloadRow, caseload
from suffice.care.clinic.access import Access, not_allowed
from suffice.care.clinic.noted import note
from suffice.care.clinic.roles import Act, Role
from suffice.clinical.entry import Identity
from suffice.errors import InputError, Problem
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of
from suffice.message import message
from suffice.record import repository, teams
from suffice.record.teams import Opened

REASON_LENGTH: Final = 500
EMERGENCY_FOR: Final = timedelta(hours=4)
"""How long a family stays open that was opened in an emergency: the rest of most shifts."""
LEAST_LETTERS: Final = 3
FOUND_MOST: Final = 5
"""A search among the families of other teams finds a person, and is no list of them."""
STRUCK: Final = "…"
WORD: Final = re.compile(r"[^\W\d_]{2,}")
LONG_NUMBER: Final = re.compile(r"\d(?:[ ./-]?\d){5,}")
"""Six digits and more: a telephone, a number in the hospital, a date of birth; no weight and no time of day."""


def find_elsewhere(
    access: Access, words: str, policy: Policy, *, why: str, now: datetime
) -> tuple[CaseloadRow, ...]:
    """Families of other teams that are called so, or have this id: a few, by whole words only.

    Raises:
        InputError: ACCESS-001; TEAM-005 without a reason, TEAM-006 for less than a word of a name.
    """
    _may_open(access, why)
    asked = folded(words).split()
    if not asked or any(len(one) < LEAST_LETTERS for one in asked):
        raise InputError(_too_short())
    note("family.searched-elsewhere", by=access.name, why=without_names(why, [words]))
    own = set(access.teams_for(Act.READ))
    others = [one for one in access.teams if one not in own]
    rows = caseload(now=now, with_discharged=True, team_ids=others).rows
    found = (row for row in rows if _is_called(row, asked, policy))
    return tuple(found)[:FOUND_MOST]


def _is_called(row: CaseloadRow, asked: Sequence[str], policy: Policy) -> bool:
    names = (row.name, *(one.name for one in row.infants))
    words = set(folded(" ".join(text_of(one, policy) for one in names)).split())
    return set(asked) <= words or list(asked) == [str(row.family_id)]


def without_names(why: str, names: Iterable[str]) -> str:
    """A reason as the trail keeps it, which outlives the family: without its names and without long numbers.

    Whole, it stands on the record of the family, where its leads read it, and goes when that is erased.

    Args:
        why: What was typed.
        names: What its people are called.
    """
    gone = set(WORD.findall(folded(" ".join(names))))
    text = LONG_NUMBER.sub(STRUCK, why)
    return WORD.sub(lambda word: STRUCK if folded(word[0]) in gone else word[0], text)


def open_in_emergency(access: Access, family_id: UUID, why: str, *, now: datetime) -> datetime:
    """Open a family of another team for a few hours; the leads of that team see who did, and why.

    Returns:
        Until when it is open.

    Raises:
        InputError: ACCESS-001, RECORD-001; TEAM-005 without a reason.
    """
    _may_open(access, why)
    if teams.team_of(family_id) is None:
        raise InputError(repository.no_family(family_id))
    facts = (one.fact for one in repository.read(family_id).entries)
    kept = without_names(why, (one.name for one in facts if isinstance(one, Identity)))
    until = now + EMERGENCY_FOR
    with repository.one_transaction():
        teams.open_in_emergency(family_id, access.user_id, why.strip(), now=now, until=until)
        note("family.opened-in-emergency", by=access.name, family_id=family_id, why=kept)
    return until


def opened_in_emergency(access: Access, *, only_unseen: bool = False) -> tuple[Opened, ...]:
    """Families of the teams that somebody leads which others opened in an emergency, the latest first."""
    led = _led(access)
    return teams.opened_of(led, only_unseen=only_unseen) if led else ()


def note_seen(access: Access, numbers: Sequence[int], *, now: datetime) -> None:
    """Note that a lead has seen what was opened in an emergency."""
    known = {one.number for one in opened_in_emergency(access, only_unseen=True)}
    with repository.one_transaction():
        teams.note_seen([one for one in numbers if one in known], now=now, by=access.name)
        note("emergency.seen", by=access.name)


def _led(access: Access) -> tuple[UUID, ...]:
    return tuple(team for team, role in access.roles.items() if role is Role.LEAD)


def _may_open(access: Access, why: str) -> None:
    """Who may enter something for the families of one team may open one of another, with a reason."""
    if not access.may(Act.WRITE):
        raise InputError(not_allowed(Act.WRITE))
    if not why.strip() or len(why) > REASON_LENGTH:
        raise InputError(_no_reason())


def _no_reason() -> Problem:
    return Problem(
        code="TEAM-005",
        what=message("No reason is given."),
        why=message("A family of another team is opened for a reason, which its leads read."),
        fix=message("Say in a few words why you need it now."),
        where="why",
    )


def _too_short() -> Problem:
    return Problem(
        code="TEAM-006",
        what=message("Too little to find a family by."),
        why=message("Families of other teams are found by whole words of a name, not by a part."),
        fix=message("Write a whole word of the name, with at least three letters."),
        where="words",
    )
