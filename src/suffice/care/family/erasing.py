"""Erasing a family after its retention period: one person asks, another confirms, both are noted.

It reaches the record with its papers and notes, photographs, files that wait to be imported, jobs that
have ended, and backups, by the destruction of the family's key (care/backup/family_keys.py). What stays
says that a family with this id was erased, by whom, when and why; `why` is one of our words, so that
nothing about anybody can stand in it.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from django.utils import timezone

from suffice.care import trail, uploads
from suffice.care.backup import family_keys, reaching
from suffice.care.clinic.access import Access, check_family, need
from suffice.care.clinic.clinic import clinic
from suffice.care.clinic.noted import SHELL, note
from suffice.care.clinic.roles import Act
from suffice.care.photographs import sealed
from suffice.clinical.entry import Record
from suffice.errors import InputError, Problem
from suffice.message import Day, Message, message
from suffice.record import accounts, erasure, jobs, repository, teams, wiping
from suffice.record import trail as kept_trail
from suffice.record.erasure import Erased, Request

WHY: Final[dict[str, Message]] = {
    "retention": message("The retention period is over"),
    "asked": message("The family asks for it, and nothing obliges the clinic to keep it"),
    "order": message("An authority or a court orders it"),
}
"""The reasons that can be given."""
APART_FOR: Final = timedelta(days=30)
"""So long after an account was made or reset by another, one person may still hold both."""
GIVES_A_WAY_IN: Final = frozenset({"user.invited", "user.reset", "outside.linked"})
"""What hands somebody a way into an account: the link with which a passphrase is chosen, or which account
elsewhere signs in to it."""
WIPES_AGAIN: Final = timedelta(minutes=2)
WIPES_AGAIN_LATEST: Final = timedelta(hours=1)
"""How long the wiping of the night waits after the first time that somebody read for long, and at the most."""
_waits: dict[str, timedelta] = {}
_not_before: dict[str, datetime] = {}
SESSION_FILES: Final = "files"
"""Under which a session keeps what is known of the files that its user sent."""


def free_from(record: Record, years: int | None) -> datetime | None:
    """From when on a family may be erased; None where the clinic has not said how long it keeps any.

    Args:
        record: The record; what counts is when something was entered last.
        years: The clinic's retention period.
    """
    if years is None:
        return None
    last = max((one.entered_at for one in record.entries), default=None)
    if last is None:
        opened_at, _by = repository.opening(record.family_id)
        last = opened_at
    try:
        return last.replace(year=last.year + years)
    except ValueError:  # 29 February
        return (last + timedelta(days=1)).replace(year=last.year + years)


def ask_for_erasure(access: Access, family_id: UUID, why: str, *, now: datetime) -> None:
    """Ask for a family to be erased; nothing is erased yet.

    Raises:
        InputError: RECORD-001, ACCESS-001; ERASE-001 before its retention period is over, ERASE-002
            where the clinic has not set one, ERASE-003 without one of the reasons.
    """
    check_family(access, family_id, Act.ERASE, now=now)
    if why not in WHY:
        raise InputError(_no_reason())
    _check_free(family_id, now)
    request = Request(family_id=family_id, at=now, by=access.name, why=why)
    if erasure.ask(request):
        note("family.erasure-asked", by=access.name, family_id=family_id, why=why)


def waiting(access: Access) -> tuple[Request, ...]:
    """The requests that a person may confirm or refuse, those that the person made included.

    Raises:
        InputError: ACCESS-001.
    """
    need(access, Act.CONFIRM_ERASURE)
    asked = erasure.requests()
    if access.is_administrator:
        return asked
    of = teams.teams_of_families({one.family_id for one in asked})
    there = (one for one in asked if one.family_id in of)  # else it was erased at this moment
    return tuple(one for one in there if Act.CONFIRM_ERASURE in access.acts_in(of[one.family_id]))


def refuse_erasure(access: Access, family_id: UUID) -> None:
    """Let the family stay; whoever asked may take it back too.

    Raises:
        InputError: ACCESS-001; ERASE-004 where nobody has asked.
    """
    _request(access, family_id)
    erasure.take_back(family_id)
    note("family.erasure-taken-back", by=access.name, family_id=family_id)


def erase(access: Access, family_id: UUID, *, now: datetime) -> Erased:
    """Erase a family for which somebody else has asked.

    Raises:
        InputError: ACCESS-001; ERASE-001, where something was entered meanwhile; ERASE-004 where nobody
            has asked; ERASE-005 for an account that whoever asked may hold too; RECORD-016 for whoever
            asked.
        DamageError: RECORD-014.
        StorageError: RECORD-009; nothing was erased.
    """
    request = _request(access, family_id)
    _check_free(family_id, now)
    _check_two(request.by, access.name, now)
    done = erasure.erase(family_id, by=access.name, now=now)
    note("family.erased", by=access.name, family_id=family_id, why=done.why)
    clear_up([family_id])
    return done


def clear_up(family_ids: Collection[UUID]) -> None:
    """Take away what lies beside the record of families that were erased, and their keys everywhere."""
    family_keys.destroy(family_ids)
    reach_backups()
    for family_id in family_ids:
        sealed.erase_family(family_id)
    # A file names families as it likes: none that waits is kept, nor what is known of them.
    uploads.forget_all()
    accounts.forget_in_sessions(SESSION_FILES)
    jobs.forget(ended_before=timezone.now())


def wipe_before_anybody_comes() -> None:
    """Wipe what was erased out of the files of the database, before a server answers anybody."""
    if wiping.is_owed():
        wiping.wipe(None)


def erased_since(since: datetime) -> tuple[UUID, ...]:
    """The families that were erased from an instant on: devices forget what was typed about them."""
    return erasure.families_since(since)


def reach_backups() -> tuple[str, ...]:
    """Take the keys of erased families from beside the backups; the folders that are out of reach."""
    return reaching.reach(tuple(erasure.every()))


def still_in_backups(family_ids: Collection[UUID]) -> tuple[str, ...]:
    """The folders in whose backups some families that were erased can still be read."""
    return reaching.owed(family_ids)


def sweep_erased(*, is_night: bool = False) -> None:
    """Finish what a process that was stopped after an erasure did not come to, and what had to wait."""
    if wiping.is_owed() and is_night:
        _wipe_at_night(timezone.now())
    erased = {one.family_id for one in erasure.every()}
    for done in family_keys.own_ring().erased:
        # A restore was stopped, or the database was set back to before it.
        if done.family_id not in erased and erasure.erase_again(done):
            erased.add(done.family_id)
    if not erased:
        return
    if left := (erased & sealed.families()) | family_keys.have_keys(erased):
        clear_up(left)
    elif reaching.owed(erased):
        reach_backups()


def _wipe_at_night(now: datetime) -> None:
    """Wipe in a quiet moment; where somebody reads for long, less and less often."""
    if not trail.is_quiet(now) or now < _not_before.get("wiping", now):
        return
    if wiping.wipe(None):
        _waits.clear()
        _not_before.clear()
        return
    waits = min(2 * _waits.get("wiping", WIPES_AGAIN / 2), WIPES_AGAIN_LATEST)
    _waits["wiping"], _not_before["wiping"] = waits, now + waits


def _request(access: Access, family_id: UUID) -> Request:
    found = next((one for one in waiting(access) if one.family_id == family_id), None)
    if found is None:
        raise InputError(_no_request())
    return found


def _check_free(family_id: UUID, now: datetime) -> None:
    free_at = free_from(repository.read(family_id), clinic().policy.retention_years)
    if free_at is None:
        raise InputError(_no_period())
    if now < free_at:
        raise InputError(_too_early(free_at))


def _check_two(asked_by: str, confirmed_by: str, now: datetime) -> None:
    """Refuse two accounts that one person may hold: whoever invites or resets an account had its link.

    Whoever links one to an account elsewhere may hold that. It goes through others too: of two whom a third invited, that third may hold both. What is done from a
    shell counts for nobody: whoever has one can change the database itself.
    """
    trail.flush()
    asked = kept_trail.Asked(act=trail.Act.PEOPLE, since=now - APART_FOR)
    links = [
        {event.who, event.about}
        for event in kept_trail.every(asked)
        if event.page in GIVES_A_WAY_IN and event.who and not event.who.endswith(SHELL)
    ]
    held, size = {asked_by}, 0
    while len(held) > size:
        size = len(held)
        held = held.union(*(link for link in links if link & held))
    if asked_by != confirmed_by and confirmed_by in held:
        raise InputError(_may_be_one(confirmed_by))


def _may_be_one(confirmed_by: str) -> Problem:
    return Problem(
        code="ERASE-005",
        what=message("Nothing was erased."),
        why=message(
            "Of the account '{name}' and the one that asked, within {days} days one was invited, reset or linked to"
            " an account elsewhere by the other, or both by one person: they may be in one hand.",
            name=confirmed_by,
            days=APART_FOR.days,
        ),
        fix=message("Let somebody else confirm it, or wait until those days are over."),
    )


def _too_early(free_at: datetime) -> Problem:
    return Problem(
        code="ERASE-001",
        what=message("This family is not erased."),
        why=message("Its retention period lasts until {day}.", day=Day(free_at.date(), year=True)),
        fix=message("Until then it is kept; what was entered wrong is corrected or withdrawn."),
    )


def _no_period() -> Problem:
    return Problem(
        code="ERASE-002",
        what=message("This family is not erased."),
        why=message("The policy does not say for how many years a record is kept."),
        fix=message("Ask what local law demands, then enter it under Policy."),
    )


def _no_reason() -> Problem:
    return Problem(
        code="ERASE-003",
        what=message("No reason is given."),
        why=message("A family is erased for a reason that stays on the trail."),
        fix=message("Choose one of the reasons."),
        where="why",
    )


def _no_request() -> Problem:
    return Problem(
        code="ERASE-004",
        what=message("Nothing was erased."),
        why=message("Nobody asks for the erasure of this family, or it was refused meanwhile."),
        fix=message("Look at the list again."),
    )
