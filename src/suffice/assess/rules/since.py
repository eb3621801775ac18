"""Since when a row holds, and by when it is due.

A row of several findings holds from the last that it needed, and is due no later than a row that it speaks
for. What one weight after the other shows has held since the first of them: a further one that shows the same
gains nobody time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from typing import Final

import msgspec

from suffice.assess.results import Finding
from suffice.assess.rules.question import compared
from suffice.assess.rules.table import Facts, Ground, Measure, Sign, hours_of, limit_of
from suffice.assess.rules.truth import Truth
from suffice.knowledge.schema import Condition, Flag
from suffice.knowledge.store import Content

LATE_AFTER: Final = {
    "emergency": "ranking.late_after_emergency_h",
    "physician": "ranking.late_after_physician_h",
    "consultant": "ranking.late_after_consultant_h",
}
"""Level to how long after what was found it counts as late that nobody has acted."""


def what_came_last(
    condition: Condition,
    supports: Sequence[Ground],
    held: Callable[[Ground], datetime | None] = lambda one: one.fact.at if one.fact else None,
) -> Ground | None:
    """The finding with which a condition began to hold; None where none of them has a time.

    All that is joined by ``all`` must be there, so the latest of it counts; of what is joined by
    ``any`` one is enough, so the earliest does. What must not be there has no time of its own.

    Args:
        condition: As the row has it.
        supports: The grounds that speak for it.
        held: Since when one of them has been so.
    """

    def at(ground: Ground) -> datetime:
        found = held(ground)
        if found is None:
            raise ValueError("a ground without a time is asked for it")
        return found

    def timed(parts: Sequence[Condition]) -> list[Ground]:
        found = (what_came_last(part, supports, held) for part in parts)
        return [one for one in found if one is not None]

    if condition.all_of:
        return max(timed(condition.all_of), key=at, default=None)
    if condition.any_of:
        return min(timed(condition.any_of), key=at, default=None)
    own = (one for one in supports if one.asked is condition and held(one) is not None)
    return min(own, key=at, default=None)


def held_from(ground: Ground, content: Content) -> datetime | None:
    """Since when what speaks for a row has been so: of one measure after the other since the first.

    A sign that was answered, and noted again, has been open since then.
    """
    fact = ground.fact
    if fact is None:
        return None
    shown = _shown_since(ground, content)
    if shown is None or fact.at is None or isinstance(fact, Sign):
        return shown or fact.at
    return min(shown, fact.at)


def _shown_since(ground: Ground, content: Content) -> datetime | None:
    """Since when one measure after the other has shown it; None where the last shows it no more."""
    fact, asked = ground.fact, ground.compared
    if isinstance(fact, Sign):
        return fact.shown_since
    if not isinstance(fact, Measure) or fact.shown_since is None or asked is None:
        return None

    def shows(one: Measure) -> bool:
        from_h = hours_of(ground.from_age) if ground.from_age is not None else one.age_h
        limit = limit_of(asked.limit, content, one.age_h)
        return (
            one.age_h >= from_h and limit is not None and compared(asked, one, limit) is Truth.TRUE
        )

    return fact.shown_since(shows)


def due_at(row: Flag, ground: Ground, facts: Facts, content: Content) -> datetime | None:
    """From when it counts as late that nobody has acted; None where the fact has no one time.

    A look asks for a weight, so it counts from the last one. So does what the consultant sees, where the last
    weight no longer shows it; where each one does, from the first, or from when somebody saw the family since,
    but never from later than the last weight: a contact at which the infant was not weighed, of the parent alone
    or with a class, gains nobody time.

    Args:
        row: The row.
        ground: The finding with which it began to hold.
        facts: What is known.
        content: The content in force.
    """
    key = LATE_AFTER.get(row.level)
    hours = row.within_h
    if hours is None and key is not None:
        hours = content.constant(key).value
    at = _asked_from(row, ground, facts, content)
    return None if at is None or hours is None else at + timedelta(hours=hours)


def _asked_from(row: Flag, ground: Ground, facts: Facts, content: Content) -> datetime | None:
    """From when on the hours of a row count."""
    fact = ground.fact
    if fact is None:
        return None
    if row.colour == "red":
        return held_from(ground, content)
    looked_at = fact.looked_at or fact.at
    shown = None if row.level == "look" else _shown_since(ground, content)
    if shown is None or looked_at is None:
        return looked_at
    return shown if facts.seen_at is None else max(shown, min(facts.seen_at, looked_at))


def due_no_later(finding: Finding, silenced: Iterable[tuple[Flag, Finding]]) -> Finding:
    """A red finding, due no later than those of its level that it speaks for: a weight gains no time for a bilirubin.

    Args:
        finding: The finding that is said.
        silenced: Those that are not, each with its row, which names the rows that silence it.
    """
    own = set(finding.entry_ids)
    due = [
        one.due_at
        for row, one in silenced
        if finding.code in row.unless
        and one.level == finding.level
        and one.due_at is not None
        and own & set(one.entry_ids)
    ]
    if finding.due_at is None or finding.colour != "red" or not due:
        return finding
    return msgspec.structs.replace(finding, due_at=min(finding.due_at, *due))
