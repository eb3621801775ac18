"""What happened at one breast where the infant feeds between expression sessions: the events, in their order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Literal, NamedTuple

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, TestWeight
from suffice.clinical.production import OneSide, ProductionParameters, feeds_at, sessions_of
from suffice.clinical.units import MINUTES_PER_HOUR


class BreastEvent(NamedTuple):
    """What happened at one breast.

    Attributes:
        at: When it began.
        kind: 'session'; 'feed', or 'maybe' where nobody wrote down at which breast; 'weighed' where the
            milk of one breast was weighed.
        ml: What came at a session, mL; None else.
        taken_g: What the infant took at a weighed feed, g; None else.
    """

    at: datetime
    kind: Literal["session", "feed", "maybe", "weighed"]
    ml: float | None = None
    taken_g: float | None = None


def fed_stretch(
    side: OneSide, entries: Sequence[Entry], parameters: ProductionParameters
) -> tuple[BreastEvent, ...]:
    """The last stretch of sessions with feeds between them that is long enough; empty where none is.

    It begins and ends with a session. A gap without any event that is longer than `break_gap_h` ends it.

    Args:
        side: The breast.
        entries: Entries of the last days, in order of time.
        parameters: Which sessions count.
    """
    found: tuple[BreastEvent, ...] = ()
    for run in _unbroken(list(_events(side, entries, parameters)), parameters):
        places = [place for place, one in enumerate(run) if one.kind == "session"]
        if len(places) < parameters.fewest_count.value:
            continue
        stretch = tuple(run[places[0] : places[-1] + 1])
        if elapsed_h(stretch[0].at, stretch[-1].at) >= parameters.fewest_h.value:
            found = stretch
    return found


def _events(
    side: OneSide, entries: Sequence[Entry], parameters: ProductionParameters
) -> Iterator[BreastEvent]:
    """Sessions and feeds in order of time; what is near to one another is one feed, the weighed one."""
    feeds: list[BreastEvent] = []
    for one in (_feed(entry, side) for entry in entries if feeds_at(entry, side)):
        near = (
            feeds
            and elapsed_h(feeds[-1].at, one.at) * MINUTES_PER_HOUR < parameters.same_minutes.value
        )
        if not near:
            feeds.append(one)
        elif _telling(one) > _telling(feeds[-1]):
            feeds[-1] = one
    sessions = [
        BreastEvent(one.at, "session", one.ml)
        for one in sessions_of(side, entries, parameters.same_minutes)
    ]
    # The infant goes first where both were put down for one moment.
    yield from sorted([*feeds, *sessions], key=lambda one: (one.at, one.kind == "session"))


def _feed(entry: Entry, side: OneSide) -> BreastEvent:
    fact = entry.fact
    if isinstance(fact, TestWeight) and fact.side == side:
        return BreastEvent(entry.true_at, "weighed", taken_g=fact.after_g - fact.before_g)
    unknown = getattr(fact, "side", side) is None
    return BreastEvent(entry.true_at, "maybe" if unknown else "feed")


def _telling(one: BreastEvent) -> int:
    return ("maybe", "feed", "weighed").index(one.kind)


def _unbroken(
    events: Sequence[BreastEvent], parameters: ProductionParameters
) -> Iterator[list[BreastEvent]]:
    run: list[BreastEvent] = []
    for one in events:
        if run and elapsed_h(run[-1].at, one.at) > parameters.break_gap_h.value:
            yield run
            run = []
        run.append(one)
    if run:
        yield run
