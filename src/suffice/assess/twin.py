"""What an urgent flag of one infant asks of the infants born with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from uuid import UUID

import msgspec

from suffice.assess.results import Finding, InfantAssessment
from suffice.assess.rules.red_flag import findings_of, in_order_of_urgency
from suffice.assess.rules.rows import RowSet
from suffice.assess.rules.table import Facts, Sign
from suffice.assess.rules.truth import Truth
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Answer, Entry, Stool, Weight, Wet
from suffice.clinical.units import HOURS_PER_DAY
from suffice.knowledge.store import Content
from suffice.message import Instant

TWIN_IN_NEED = "twin_in_need"
TWIN_HAS_DIED = "twin_has_died"
ASKED = frozenset({TWIN_IN_NEED, TWIN_HAS_DIED})
"""The signs that the rows of this module ask."""


def with_twins(
    infants: Sequence[InfantAssessment],
    entries: Sequence[Entry],
    content: Content,
    *,
    as_of: datetime,
) -> tuple[InfantAssessment, ...]:
    """The same infants; one that is calm beside an urgent one, or one that has died, is to be looked at too.

    Args:
        infants: The assessed infants of one family.
        entries: The current entries of the family.
        content: The content in force.
        as_of: The instant of the question.
    """
    if len(infants) < 2:
        return tuple(infants)
    times: dict[UUID | None, datetime] = {one.id: one.true_at for one in entries}
    since = [_urgent_since(one, times, as_of) for one in infants]
    deaths = [one.died.at for one in infants if one.died is not None]
    found = list(infants)
    for place, one in enumerate(infants):
        others = [at for at in (*since[:place], *since[place + 1 :]) if at is not None]
        if since[place] is None and others:
            found[place] = _beside(one, TWIN_IN_NEED, min(others), entries, content, as_of)
        elif since[place] is None and deaths:
            found[place] = _beside(one, TWIN_HAS_DIED, max(deaths), entries, content, as_of)
    return tuple(found)


def _urgent_since(
    infant: InfantAssessment, times: Mapping[UUID | None, datetime], as_of: datetime
) -> datetime | None:
    """Since when an infant has had a red flag; None where it has none.

    A flag that has no one time is as old as the last entry that it rests on.
    """
    red = (one for one in infant.findings if one.colour == "red")
    return min((one.at or _last_entry(one, times) or as_of for one in red), default=None)


def _last_entry(finding: Finding, times: Mapping[UUID | None, datetime]) -> datetime | None:
    return max((times[one] for one in finding.entry_ids if one in times), default=None)


def _beside(
    infant: InfantAssessment,
    name: str,
    since: datetime,
    entries: Sequence[Entry],
    content: Content,
    as_of: datetime,
) -> InfantAssessment:
    if infant.died or infant.born_at is None or _is_looked_at(infant, since, entries):
        return infant
    sign = Sign(
        present=Truth.TRUE,
        age_h=max(elapsed_h(infant.born_at, since), 0.0),
        at=since,
        gaps=(("at", Instant(since)),),
    )
    facts = Facts(signs={name: (sign,)}, age_h=infant.age_h)
    rows = _rows_of_twins(content)
    found = findings_of(rows, facts, {}, as_of=as_of, infant_id=infant.infant_id)
    more = (finding for finding, _ in found.held)
    findings = in_order_of_urgency((*infant.findings, *more), content)
    return msgspec.structs.replace(infant, findings=findings)


@lru_cache(maxsize=8)
def _rows_of_twins(content: Content) -> RowSet:
    rows = (row for row in content.flags if row.about == "infant")
    asked = (row for row in rows if any(one.sign in ASKED for one in row.when.each()))
    return RowSet(asked, content)


def _is_looked_at(infant: InfantAssessment, since: datetime, entries: Sequence[Entry]) -> bool:
    """Whether it was weighed, and its diapers were seen, no more than a day before or later."""
    from_ = since - timedelta(hours=HOURS_PER_DAY)
    own = [one for one in entries if one.infant_id == infant.infant_id and one.true_at >= from_]
    if any(_is_seen_since(one, since) for one in own):
        return True
    is_weighed = any(isinstance(one.fact, Weight) for one in own)
    return is_weighed and any(isinstance(one.fact, Wet | Stool) for one in own)


def _is_seen_since(entry: Entry, since: datetime) -> bool:
    """Whether it says that a physician has answered about that infant since."""
    answer = entry.fact
    return isinstance(answer, Answer) and answer.is_of_physician and entry.true_at >= since
