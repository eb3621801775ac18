"""A watched feed in words: each side with its minutes of swallowing, and the weights."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID, uuid5

import msgspec
from django.utils.translation import gettext as _

from suffice.assess.parameters import CareParameters
from suffice.assess.watched_feed import (
    FeedReading,
    SideReading,
    effective_minutes,
    flow,
    state_words,
    weighed,
)
from suffice.clinical.entry import Entry, Record, TestWeight, WatchedFeed
from suffice.clinical.milk.test_weight import Transfer
from suffice.clinical.units import SECONDS_PER_MINUTE
from suffice.inference.feed.reading import Between
from suffice.web.feed.forms import TEST_WEIGHT
from suffice.web.shown.wording import Wording, in_words


class SideShown(msgspec.Struct, frozen=True, kw_only=True):
    """One time at the breast."""

    side: str
    on: str
    effective: str
    swallows_count: int
    left_out_count: int
    rate: str
    says: str
    is_watched_whole: bool
    watched: str


class WeighedShown(msgspec.Struct, frozen=True, kw_only=True):
    """What the weights say."""

    taken: str
    range: str
    level: int
    flow: str
    flow_range: str
    why_not: str = ""


def sides_shown(reading: FeedReading, wording: Wording) -> tuple[SideShown, ...]:
    """The sides of a feed in words."""
    return tuple(_side(one, wording) for one in reading.sides)


def _side(one: SideReading, wording: Wording) -> SideShown:
    found = one.reading
    rate = found.swallows_per_minute
    return SideShown(
        side=_("Left") if one.side == "left" else _("Right"),
        on=_minutes_seconds(found.on_s),
        effective=_interval(_in_minutes(found.effective_s), wording, 1)
        if found.on_s >= SECONDS_PER_MINUTE
        else "",
        swallows_count=found.taps_count,
        left_out_count=found.left_out_count,
        rate="" if rate is None else _interval(rate, wording, 0),
        says=in_words(state_words(found)),
        is_watched_whole=found.watched_s == found.on_s,
        watched=_minutes_seconds(found.watched_s),
    )


def totals_shown(reading: FeedReading, wording: Wording) -> tuple[tuple[str, str], ...]:
    """Minutes of swallowing by side, over all times on it, where there was more than one time."""
    found = []
    for side, name in (("left", _("Left")), ("right", _("Right"))):
        minutes = effective_minutes(reading.sides, side)
        if minutes is not None:
            found.append((name, _interval(minutes, wording, 1)))
    return tuple(found) if len(found) < len(reading.sides) else ()


def weighed_shown(
    fact: TestWeight, reading: FeedReading, parameters: CareParameters, wording: Wording
) -> WeighedShown:
    """The transfer, and the milk in a minute of swallowing."""
    found = weighed(fact, parameters)
    if not isinstance(found, Transfer):
        why = in_words(found)
        return WeighedShown(taken="", range="", level=0, flow="", flow_range="", why_not=why)
    volume = found.volume_ml
    fast = flow(found, reading.sides, parameters)
    return WeighedShown(
        taken=str(wording.volume(volume.value)),
        range=_range(str(wording.volume(volume.low or 0)), str(wording.volume(volume.high or 0))),
        level=round(100 * (volume.level or 0)),
        flow="" if fast is None else wording.number(fast.g_per_minute.value, 1),
        flow_range=""
        if fast is None
        else _range(
            wording.number(fast.g_per_minute.low, 1), wording.number(fast.g_per_minute.high, 1)
        ),
    )


def test_weight_of(record: Record, current: Sequence[Entry], watched: Entry) -> TestWeight | None:
    """The weights that were entered together with a watched feed, as they are after corrections."""
    wanted = uuid5(first_id(record, watched), TEST_WEIGHT)
    for one in current:
        if isinstance(one.fact, TestWeight) and first_id(record, one) == wanted:
            return one.fact
    return None


def first_id(record: Record, entry: Entry) -> UUID:
    """The id of the entry that this one, through its corrections, goes back to."""
    by_id = {one.id: one for one in record.entries}
    while entry.replaces is not None and entry.replaces in by_id:
        entry = by_id[entry.replaces]
    return entry.id


def others_of(current: Sequence[Entry], watched: Entry, lasted_ms: int) -> list[Entry]:
    """Other watched feeds of the same infant that began while this one went on, or the other way."""
    found = []
    for one in current:
        if not isinstance(one.fact, WatchedFeed) or one.infant_id != watched.infant_id:
            continue
        apart = abs((one.true_at - watched.true_at).total_seconds() * 1000)
        if one.id != watched.id and apart <= lasted_ms:
            found.append(one)
    return found


def _in_minutes(seconds: Between) -> Between:
    return Between(
        seconds.value / SECONDS_PER_MINUTE,
        seconds.low / SECONDS_PER_MINUTE,
        seconds.high / SECONDS_PER_MINUTE,
    )


def _interval(found: Between, wording: Wording, digits: int) -> str:
    value, low, high = (wording.number(one, digits) for one in (found.value, found.low, found.high))
    return _("%(value)s (%(low)s to %(high)s)") % {"value": value, "low": low, "high": high}


def _range(low: str, high: str) -> str:
    return _("%(low)s to %(high)s") % {"low": low, "high": high}


def _minutes_seconds(seconds: int) -> str:
    return f"{seconds // 60}:{seconds % 60:02d}"
