"""How long what was found may stand behind: until an answer to a handover, or the next date of what is known.

Whatever time was written, what is an emergency, or a physician must see the same day, comes back by the
content's longest time, and so does what a physician knows of. A time beyond it is refused, or asked
about, where it is entered; of one that is on the record already only that much counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from suffice.clinical.entry import Entry, Handover, Known
from suffice.clinical.units import HOURS_PER_DAY
from suffice.errors import Problem
from suffice.knowledge.schema import Level
from suffice.knowledge.store import Content
from suffice.message import Amount, Message, dated, message

LONGEST: Final = {
    "emergency": "ranking.handover_longest_emergency_h",
    "physician": "ranking.handover_longest_physician_h",
}
"""Level to how long a flag of it may stand behind once it is handed over."""
KNOWN_LONGEST: Final = "ranking.known_longest_d"
WHAT: Final = {
    "emergency": message("an emergency"),
    "physician": message("what a physician must see the same day"),
}


def latest_answer(level: Level, handed_over_at: datetime, content: Content) -> datetime | None:
    """By when a flag that was handed over comes back at the latest; None for less urgent ones."""
    key = LONGEST.get(level)
    if key is None:
        return None
    return handed_over_at + timedelta(hours=content.constant(key).value)


def latest_next_date(known_at: datetime, content: Content) -> datetime:
    """Until when what a physician knows of is a note at the longest."""
    return known_at + timedelta(days=content.constant(KNOWN_LONGEST).value)


def waiting_problems(entry: Entry, content: Content) -> Iterator[Problem]:
    """What is wrong with the time until which an entry asks to wait.

    Refused for a flag that is an emergency or one of a physician; asked about where no flag is named,
    for then it holds of the less urgent ones alone, and where it is the next date of what is known.

    Args:
        entry: The entry.
        content: Its flags and the longest times.
    """
    fact = entry.fact
    if isinstance(fact, Handover) and fact.answer_by is not None:
        level = _level_of(fact.flag, content)
        latest = latest_answer(level or "physician", entry.true_at, content)
        if latest is not None and fact.answer_by > latest:
            yield _waits_too_long(entry.true_at, latest, fact.answer_by, level)
    elif isinstance(fact, Known) and fact.next_at is not None:
        latest = latest_next_date(entry.true_at, content)
        if fact.next_at > latest:
            yield _far_next_date(entry.true_at, latest, fact.next_at)


def _level_of(code: str | None, content: Content) -> Level | None:
    """The level of a flag; None where none is named, or one that the content does not have."""
    return next((row.level for row in content.flags if row.code == code), None)


def _hours(start: datetime, end: datetime) -> float:
    return (end - start) / timedelta(hours=1)


def _waits_too_long(
    at: datetime, latest: datetime, answer_by: datetime, level: Level | None
) -> Problem:
    longest = Amount(_hours(at, latest), "h", decimals=0)
    why: Message = message(
        "is too late: {what} is back on the list {longest} after it was handed over.",
        what=WHAT[level or "physician"],
        longest=longest,
    )
    return Problem(
        code="HANDOVER-001" if level else "HANDOVER-002",
        what=dated(answer_by),
        why=why,
        fix=message("Name an earlier time, or leave it empty.")
        if level
        else message("Is the date right? Correct or confirm it."),
        where="answer_by",
        doubtful=level is None,
    )


def _far_next_date(at: datetime, latest: datetime, next_at: datetime) -> Problem:
    return Problem(
        code="KNOWN-001",
        what=dated(next_at),
        why=message(
            "is far ahead; what is known is asked about after {longest} at the latest.",
            longest=Amount(_hours(at, latest) / HOURS_PER_DAY, "d", decimals=0),
        ),
        fix=message("Is the date right? Correct or confirm it."),
        where="next_at",
        doubtful=True,
    )
