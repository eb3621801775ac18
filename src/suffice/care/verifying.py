"""Checking that nothing of the record was changed outside the program: whole, at the start, at night.

What a check finds is kept: a family whose record is damaged is read only from then on, until a later
whole check finds it as it was entered.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from uuid import UUID

from django.db import DatabaseError, connection
from django.utils import timezone

from suffice.errors import Problem
from suffice.message import Instant, Message, Words, message
from suffice.record import accepted, append_only, clock, damage, newest, seal, verified
from suffice.record.repository import unavailable
from suffice.record.verify import Checked, Found, Wrong, is_id, verify

logger = logging.getLogger("suffice.verify")

AT_NIGHT = frozenset({1, 2, 3, 4, 5})
"""Hours of the clinic's clock in which the whole check of the night is begun."""
ONE_NIGHT, LONGEST = timedelta(hours=18), timedelta(hours=48)
"""Since the last whole check: a night's is over by then; any hour is right for the next."""
CLOCK_WARNING_FOR = timedelta(hours=24)
"""How long pages say that the clock was set back."""
LOOK_S = 3.0
"""How long the start may wait for a quick look."""


def check_whole(progress: Callable[[int], None] | None = None) -> Checked:
    """Check everything, keep what is found, and put triggers back that are missing.

    Raises:
        StorageError: RECORD-009, when the database cannot be read.
    """
    began_at = timezone.now()
    try:
        checked = verify(progress) if progress else verify()
        verified.keep(checked, began_at=began_at, ended_at=timezone.now())
        _put_back(checked.found)
    except DatabaseError as error:
        raise unavailable(error) from error
    return checked


def accept(checked: Checked, family_id: UUID | None, *, who: str, why: str) -> tuple[Found, ...]:
    """Accept what a whole check has found: the record can be added to again, the damage stays listed.

    Args:
        checked: What was found a moment ago.
        family_id: The family whose damage is accepted; None accepts all.
        who: The user who answers for it.
        why: The reason.

    Returns:
        What was accepted now. A damaged page of the database cannot be.

    Raises:
        StorageError: RECORD-009.
    """
    there = accepted.among(checked.found)
    now = timezone.now()
    chosen = tuple(
        one
        for one in checked.found
        if accepted.can_be(one)
        and one not in there
        and (family_id is None or one.family == family_id.hex)
    )
    accepted.accept(chosen, who=who, why=why, now=now)
    verified.keep(checked, began_at=now, ended_at=timezone.now())
    return chosen


def look(limit_s: float = LOOK_S) -> newest.Looked:
    """Look at the newest, for as long as there is time; keep what is found.

    Raises:
        StorageError: RECORD-009, when the database cannot be read.
    """
    try:
        looked = newest.look(limit_s)
        verified.add(looked.found)
        _put_back(looked.found)
    except DatabaseError as error:
        raise unavailable(error) from error
    return looked


def _put_back(found: Iterable[Found]) -> None:
    if any(one.wrong is Wrong.TRIGGER for one in found):
        append_only.put_back(connection)


def keep_watch(now: datetime, hour: int) -> None:
    """Seal a day that is over, and check everything once a night; called every minute.

    Args:
        now: The instant.
        hour: The hour on the clinic's clock.
    """
    yesterday = now.date() - timedelta(days=1)
    sealed = seal.newest_day()
    if sealed is None or sealed < yesterday:
        seal.seal(yesterday)
    last = verified.last()
    since = LONGEST if last is None else now - last.began_at
    if since >= LONGEST or (since >= ONE_NIGHT and hour in AT_NIGHT):
        check_whole()
        found = verified.known()
        if found:
            logger.error("the nightly check found %d things wrong: suffice verify", len(found))


def warnings(family_id: UUID | None, now: datetime) -> list[Problem]:
    """What a page says above all else: that a record is damaged, that the clock is wrong.

    Args:
        family_id: The family that the page is about; None for a page about none.
        now: The instant.

    Raises:
        StorageError: RECORD-009, when the database cannot be read.
    """
    try:
        found = [damage.PROBLEM] if damage.is_damaged(family_id) else []
        clocked = wrong_clock(now)
    except DatabaseError as error:
        raise unavailable(error) from error
    return found if clocked is None else [*found, clocked]


def problems_of(found: Iterable[Found]) -> tuple[Problem, ...]:
    """What a check found, in words."""
    return tuple(_problem_of(one) for one in found)


def wrong_clock(now: datetime) -> Problem | None:
    """What to say of a clock that is earlier than what is stored, or was set back within a day."""
    ahead, back = clock.ahead_of(now), clock.set_back()
    if ahead is not None:
        before, after = ahead, now
    elif back is not None and abs(now - back[1]) < CLOCK_WARNING_FOR:
        before, after = back
    else:
        return None
    return Problem(
        code="VERIFY-009",
        what=message("The clock of this computer was set back."),
        why=message(
            "Something was stored at {before}, and after it the clock said {after}.",
            before=Instant(before, year=True),
            after=Instant(after, year=True),
        ),
        fix=message("Set it right, best by network time, before anything is entered by it."),
    )


FORMS: dict[str, Message] = {
    "family": message("Family {id}"),
    "infant": message("Infant {id}"),
    "entry": message("Entry {id}"),
    "placement": message("Placement {id}"),
    "erasure": message("Erasure of {id}"),
    "policy": message("Policy version {id}"),
    "arrival": message("Import {id}"),
    "seal": message("Seal {id}"),
    "event": message("Event {id} of the trail"),
}


def _name(found: Found) -> Words:
    shown = str(UUID(found.key)) if is_id(found.key) else found.key
    return FORMS[found.form].with_params(id=shown) if found.form in FORMS else shown


def _where(found: Found) -> Words:
    return message("family {id}", id=str(UUID(found.family))) if found.family else ""


RESTORE = message(
    "Keep a copy of the database as it is, find out who could write to it, and compare with a backup."
)


_OF_CHAIN: dict[Wrong, tuple[str, Message]] = {
    Wrong.CHANGED: ("VERIFY-001", message("was changed after it was stored.")),
    Wrong.REMOVED: ("VERIFY-002", message("was stored and is not there any more.")),
    Wrong.ADDED: ("VERIFY-003", message("was not stored by this program.")),
    Wrong.LINK: (
        "VERIFY-004",
        message("does not fit the one before it: it was changed, moved, or one was taken out."),
    ),
    Wrong.CUT: (
        "VERIFY-005",
        message("should be the next, as the chain was counted, or is one too many."),
    ),
    Wrong.SEAL: ("VERIFY-006", message("was sealed, and is not as it was sealed.")),
}
"""What is wrong with a row or a link of a chain: its code, and how it is so."""


def _problem_of(found: Found) -> Problem:
    if found.wrong is Wrong.TRIGGER:
        return _trigger(found)
    if found.wrong is Wrong.PAGE:
        return _page(found)
    code, why = _OF_CHAIN[found.wrong]
    is_link = found.wrong in {Wrong.LINK, Wrong.CUT}
    is_link = is_link or (found.wrong is Wrong.SEAL and not found.form)
    what = message("Link {place}", place=found.key) if is_link else _name(found)
    return Problem(code=code, what=what, why=why, fix=RESTORE, where=_where(found))


def _trigger(found: Found) -> Problem:
    return Problem(
        code="VERIFY-007",
        what=found.key,
        why=message("was missing or altered: a rule of the database that lets nothing be changed."),
        fix=message(
            "It was put back. Find out who took it away: that needs access to the database."
        ),
    )


def _page(found: Found) -> Problem:
    return Problem(
        code="VERIFY-008",
        what=message("The file of the database is damaged: {said}.", said=found.key),
        why=message("A disk that fails writes wrong, or the file was copied while it was in use."),
        fix=message("Stop the program, keep the file, and restore the newest backup."),
    )
