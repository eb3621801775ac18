"""Since when a row of several findings holds, and by when it is due.

It holds from the last finding that it needed, and is due no later than a row that it speaks for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

import msgspec

from suffice.assess.results import Finding
from suffice.assess.rules.table import Ground
from suffice.knowledge.schema import Condition, Flag


def what_came_last(condition: Condition, supports: Sequence[Ground]) -> Ground | None:
    """The finding with which a condition began to hold; None where none of them has a time.

    All that is joined by ``all`` must be there, so the latest of it counts; of what is joined by
    ``any`` one is enough, so the earliest does. What must not be there has no time of its own.

    Args:
        condition: As the row has it.
        supports: The grounds that speak for it.
    """
    if condition.all_of:
        return max(_timed(condition.all_of, supports), key=_at, default=None)
    if condition.any_of:
        return min(_timed(condition.any_of, supports), key=_at, default=None)
    own = (one for one in supports if one.asked is condition and one.fact and one.fact.at)
    return min(own, key=_at, default=None)


def _timed(parts: Sequence[Condition], supports: Sequence[Ground]) -> list[Ground]:
    found = (what_came_last(part, supports) for part in parts)
    return [one for one in found if one is not None]


def _at(ground: Ground) -> datetime:
    at = ground.fact.at if ground.fact else None
    if at is None:
        raise ValueError("a ground without a time is asked for it")
    return at


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
