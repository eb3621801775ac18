"""A watched feed by side, with its offer, and with its weights."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from feeds import events, feed_that_fades
from suffice.assess.parameters import parameters_of
from suffice.assess.watched_feed import (
    SideReading,
    effective_minutes,
    end_ms,
    flow,
    read_feed,
    state_words,
    weighed,
)
from suffice.clinical.entry import TestWeight
from suffice.clinical.feed.event import FeedEvent
from suffice.clinical.milk.test_weight import Transfer
from suffice.errors import InputError
from suffice.inference.feed.reading import Between, State, StretchReading
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import text_of

PARAMETERS = parameters_of(load())
FADED = (
    FeedEvent(at_ms=0, what="left"),
    *(
        FeedEvent(at_ms=1000 * at + 500, what="swallow")
        for at, tap in enumerate(feed_that_fades())
        if tap
    ),
)
AT = datetime(2026, 3, 8, tzinfo=UTC)


def side(name: str, value: float, low: float, high: float) -> SideReading:
    reading = StretchReading(
        state=State.SWALLOWING,
        faded_fraction=0,
        faded_ms=None,
        effective_s=Between(value, low, high),
        swallows_per_minute=None,
        taps_count=40,
        left_out_count=0,
        watched_s=300,
        on_s=300,
    )
    return SideReading(name, 0, True, reading)  # type: ignore[arg-type]


def taken(after_g: float, *, same_clothes: bool | None = True) -> TestWeight:
    return TestWeight(before_g=3000, after_g=after_g, minutes=10, same_clothes=same_clothes)


def transfer(after_g: float) -> Transfer:
    found = weighed(taken(after_g), PARAMETERS)
    assert isinstance(found, Transfer)
    return found


def test_no_offer_once_the_infant_is_off() -> None:
    assert read_feed(FADED, 510_000, PARAMETERS).offer is not None
    over = (*FADED, FeedEvent(at_ms=509_000, what="off"))
    assert read_feed(over, 510_000, PARAMETERS).offer is None


def test_no_side_yet() -> None:
    found = read_feed((), 1000, PARAMETERS)
    assert (found.sides, found.offer) == ((), None)


def test_the_offer_is_about_the_side_of_now() -> None:
    other = (*FADED, FeedEvent(at_ms=509_000, what="right"))
    found = read_feed(other, 530_000, PARAMETERS)
    assert [one.side for one in found.sides] == ["left", "right"]
    assert found.sides[0].reading.state is State.FADED
    assert (found.sides[1].reading.state, found.offer) == (State.TOO_LITTLE, None)


def test_what_cannot_be_a_feed_is_refused_with_all_that_is_wrong() -> None:
    with pytest.raises(InputError) as refused:
        read_feed(events("-1 swallow", "99999 left"), 1000, PARAMETERS)
    codes = [one.code for one in refused.value.problems]
    assert codes == ["WATCH-001", "WATCH-002", "WATCH-004"]


def test_the_end_is_the_last_event_in_whatever_order() -> None:
    assert end_ms(events("9 off", "0 left")) == 9000
    assert end_ms(()) == 0


def test_minutes_of_a_side_add_up_and_their_errors_in_squares() -> None:
    sides = [side("left", 120, 90, 160), side("right", 60, 0, 90), side("left", 60, 20, 90)]
    left = effective_minutes(sides, "left")
    assert left is not None
    assert (left.value, left.low) == (3, pytest.approx(3 - 50 / 60))
    assert left.high == pytest.approx(3 + 50 / 60)
    assert effective_minutes(sides[:1], "right") is None


def test_flow_is_what_was_weighed_over_the_minutes_of_swallowing() -> None:
    """40 g in 5 minutes are 8 g a minute; the evaporation put back makes it a little more."""
    found = flow(transfer(3040), [side("left", 300, 260, 340)], PARAMETERS)
    assert found is not None
    assert found.g_per_minute.value == pytest.approx(8, abs=0.4)
    assert found.g_per_minute.low < 8 < found.g_per_minute.high
    wider = flow(transfer(3040), [side("left", 300, 100, 500)], PARAMETERS)
    assert wider is not None
    assert wider.g_per_minute.low < found.g_per_minute.low


def test_no_flow_where_nothing_was_taken() -> None:
    assert flow(transfer(2990), [side("left", 300, 260, 340)], PARAMETERS) is None


def test_no_flow_without_a_minute_of_swallowing() -> None:
    assert flow(transfer(3040), [side("left", 59, 0, 90)], PARAMETERS) is None
    assert flow(transfer(3040), [], PARAMETERS) is None


def test_changed_clothes_leave_no_transfer() -> None:
    assert not isinstance(weighed(taken(3040, same_clothes=False), PARAMETERS), Transfer)


@pytest.mark.parametrize(
    ("state", "says"),
    [
        (State.SWALLOWING, "Still swallowing."),
        (State.PERHAPS, "Fewer swallows: a lull, or the end of it. Keep counting."),
        (State.TOO_LITTLE, "Too little to tell."),
        (State.FADED, "Swallowing has faded since about minute 5.0 (4.0 to 7.0)."),
    ],
)
def test_each_state_has_its_words(state: State, says: str) -> None:
    when = Between(5 * 60_000, 4 * 60_000, 7 * 60_000)
    reading = replace(side("left", 120, 90, 160).reading, state=state, faded_ms=when)
    assert text_of(state_words(reading), Policy()) == says


def test_faded_without_a_minute_names_none() -> None:
    reading = replace(side("left", 120, 90, 160).reading, state=State.FADED)
    assert text_of(state_words(reading), Policy()) == "Too little to tell."


def test_a_doubled_tap_is_read_as_one_swallow() -> None:
    """Each second tap 0.1 s after the first: the reading is that of single taps, to the bit."""
    doubled = [
        FeedEvent(at_ms=one.at_ms + 100, what="swallow") for one in FADED if one.what == "swallow"
    ]
    now = end_ms(doubled)
    once, twice = (read_feed(those, now, PARAMETERS) for those in (FADED, [*doubled, *FADED]))
    (one,), (other,) = once.sides, twice.sides
    assert other.reading.left_out_count == len(doubled)
    assert replace(other.reading, left_out_count=0) == one.reading
