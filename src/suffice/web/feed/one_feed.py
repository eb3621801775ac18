"""One feed that two devices watched: each keeps what it saw, and the feed counts once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from uuid import UUID, uuid5

import msgspec

from suffice.assess.watched_feed import end_ms
from suffice.clinical.entry import Entry, Feed, Record, TestWeight, WatchedFeed, standing
from suffice.web.feed.forms import FEED, TEST_WEIGHT
from suffice.web.feed.page import first_id

BREASTS = {"left": {"left"}, "right": {"right"}, "both": {"left", "right"}}


def once(record: Record, entries: Sequence[Entry]) -> list[Entry]:
    """What is stored of a watched feed where another device watched the same one.

    The watched feed itself always is. The feed at the breast that goes with it is not where the other's says
    as much, and takes the place of the other's where it says more; two that saw different breasts both stand.
    A test weight is not stored where the same two weights stand already. Nothing is, where the watched feed
    itself is on the record: a device sends again what it had no answer for.

    Args:
        record: The family's record, to which nobody writes meanwhile.
        entries: The watched feed first, then what is entered together with it.
    """
    watched = entries[0]
    if any(one.id == watched.id for one in record.entries):
        return []
    ids = [first_id(record, one) for one in _at_once(record, watched)]
    feeds = [one for one in _named(record, ids, FEED) if isinstance(one.fact, Feed)]
    weights = [
        one.fact for one in _named(record, ids, TEST_WEIGHT) if isinstance(one.fact, TestWeight)
    ]
    found = [watched]
    for one in entries[1:]:
        if isinstance(one.fact, Feed):
            found += _feed(one, feeds)
        elif not isinstance(one.fact, TestWeight) or not any(
            (one.fact.before_g, one.fact.after_g) == (other.before_g, other.after_g)
            for other in weights
        ):
            found.append(one)
    return found


def _feed(mine: Entry, theirs: Sequence[Entry]) -> Iterator[Entry]:
    breasts = _breasts(mine)
    if any(breasts <= _breasts(one) for one in theirs):
        return
    less = next((one for one in theirs if _breasts(one) < breasts), None)
    yield mine if less is None else msgspec.structs.replace(mine, replaces=less.id)


def _breasts(entry: Entry) -> set[str]:
    side = entry.fact.side if isinstance(entry.fact, Feed) else None
    return BREASTS.get(side or "", set())


def _at_once(record: Record, watched: Entry) -> list[Entry]:
    """Other watched feeds of the same infant of which a part lies within this one."""
    since, until = _span(watched)
    found = []
    for one in standing(record.entries):
        if isinstance(one.fact, WatchedFeed) and one.infant_id == watched.infant_id:
            begins, ends = _span(one)
            if one.id != watched.id and begins < until and since < ends:
                found.append(one)
    return found


def _span(watched: Entry) -> tuple[datetime, datetime]:
    events = watched.fact.events if isinstance(watched.fact, WatchedFeed) else ()
    return watched.true_at, watched.true_at + timedelta(milliseconds=end_ms(events))


def _named(record: Record, watched: Sequence[UUID], name: str) -> list[Entry]:
    """What stands of the entries that were made together with watched feeds."""
    wanted = {uuid5(one, name) for one in watched}
    return [one for one in standing(record.entries) if first_id(record, one) in wanted]
