"""What a watched feed says: side by side, with its offer, and with its weights where it was weighed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from scipy.special import ndtri

from suffice.assess.parameters import CareParameters
from suffice.assess.review.intake import transfer_of
from suffice.clinical.entry import TestWeight
from suffice.clinical.feed.course import Countable, stretches
from suffice.clinical.feed.event import FeedEvent, event_problems, ordered
from suffice.clinical.milk.test_weight import Transfer
from suffice.clinical.units import MS_PER_MINUTE, MS_PER_SECOND, SECONDS_PER_MINUTE
from suffice.errors import InputError, RefusalError
from suffice.inference.feed.model import FeedParameters
from suffice.inference.feed.reading import Between, State, StretchReading, read_stretch
from suffice.message import Message, Number, Words, message


@dataclass(frozen=True)
class SideReading:
    """One stretch at the breast.

    Attributes:
        side: Which.
        begins_ms: After the beginning of the feed.
        is_over: Whether the infant is off again.
        reading: What its swallows say.
    """

    side: Literal["left", "right"]
    begins_ms: int
    is_over: bool
    reading: StretchReading


@dataclass(frozen=True)
class FeedReading:
    """A watched feed as of a moment.

    Attributes:
        sides: Its stretches, the earliest first.
        says: What is said now, in a sentence.
        offer: What is offered, with how often it comes too early; None where nothing is.
    """

    sides: tuple[SideReading, ...]
    says: Message
    offer: Message | None


@dataclass(frozen=True)
class Flow:
    """Milk taken in a minute of swallowing, from a test weight: g/min with its interval."""

    g_per_minute: Between
    level: float


def read_feed(events: Sequence[FeedEvent], now_ms: int, parameters: CareParameters) -> FeedReading:
    """What a feed says as of a moment; the same events give the same answer in any order.

    Args:
        events: Of the feed.
        now_ms: After its beginning; for a feed that is over, where it ended.
        parameters: Of the content.

    Raises:
        InputError: WATCH-001 to WATCH-004.
    """
    limits = parameters.watched_feed_limits
    problems = event_problems(events, limits)
    if problems:
        raise InputError(*problems)
    now_ms = min(now_ms, int(limits.longest_minutes.value * MS_PER_MINUTE))
    sides = tuple(
        SideReading(
            one.side, one.begins_ms, one.is_over, read_stretch(one, parameters.watched_feed)
        )
        for one in stretches(events, now_ms, countable(parameters.watched_feed))
    )
    if not sides:
        return FeedReading(sides, message("Say on which side the infant goes."), None)
    last = sides[-1]
    is_on = not last.is_over
    says = state_words(last.reading)
    offer = offer_words(parameters) if is_on and last.reading.state is State.FADED else None
    return FeedReading(sides, says, offer)


def countable(model: FeedParameters) -> Countable:
    """Which taps can be swallows, as the content has it."""
    return Countable(
        model.same_swallow_s.value * MS_PER_SECOND,
        int(model.most_swallows_count.value),
        model.most_swallows_s.value * MS_PER_SECOND,
    )


def end_ms(events: Sequence[FeedEvent]) -> int:
    """When the last event was; 0 where there is none."""
    return ordered(events)[-1].at_ms if events else 0


def state_words(reading: StretchReading) -> Message:
    """What the swallows of a stretch say."""
    if reading.state is State.FADED and reading.faded_ms is not None:
        found = reading.faded_ms
        return message(
            "Swallowing has faded since about minute {minute} ({low} to {high}).",
            minute=_minute(found.value),
            low=_minute(found.low),
            high=_minute(found.high),
        )
    if reading.state is State.SWALLOWING:
        return message("Still swallowing.")
    if reading.state is State.PERHAPS:
        return message("Fewer swallows: a lull, or the end of it. Keep counting.")
    return message("Too little to tell.")


def offer_words(parameters: CareParameters) -> Message:
    """The offer of the other side, with how often it comes too early."""
    model = parameters.watched_feed
    return message(
        "Offer the other side. In simulated feeds this came too early, in a lull, on {usual} of 100"
        " sides; on {long} where lulls are long.",
        usual=round(100 * model.early_offer_fraction.value),
        long=round(100 * model.early_offer_long_lulls_fraction.value),
    )


def effective_minutes(sides: Sequence[SideReading], side: str) -> Between | None:
    """Minutes of swallowing on one side, over all times that the infant was on it; None: never on."""
    own = [one.reading.effective_s for one in sides if one.side == side]
    if not own:
        return None
    value = math.fsum(one.value for one in own)
    low = math.sqrt(math.fsum((one.value - one.low) ** 2 for one in own))
    high = math.sqrt(math.fsum((one.high - one.value) ** 2 for one in own))
    return Between(
        value / SECONDS_PER_MINUTE,
        max(value - low, 0.0) / SECONDS_PER_MINUTE,
        (value + high) / SECONDS_PER_MINUTE,
    )


def weighed(fact: TestWeight, parameters: CareParameters) -> Transfer | Words:
    """What was taken by the weights, or why that is not known."""
    try:
        return transfer_of(fact, parameters)
    except (InputError, RefusalError) as refusal:
        return refusal.problems[0].why


def flow(
    transfer: Transfer, sides: Sequence[SideReading], parameters: CareParameters
) -> Flow | None:
    """Milk taken in a minute of swallowing; the relative errors of both add in squares.

    None where nothing was taken, or where no swallowing was seen. Never from swallows alone.
    """
    level = parameters.watched_feed.level_fraction.value
    wide = float(ndtri((1 + level) / 2))
    minutes = math.fsum(one.reading.effective_s.value for one in sides) / SECONDS_PER_MINUTE
    milk_g = transfer.volume_ml.value * parameters.test_weight.milk_density_g_per_ml.value
    if milk_g <= 0 or minutes < 1:
        return None
    spread_s = math.sqrt(
        math.fsum(
            ((one.reading.effective_s.high - one.reading.effective_s.low) / 2) ** 2 for one in sides
        )
    )
    relative = math.hypot(
        wide * transfer.se_ml / transfer.volume_ml.value, spread_s / SECONDS_PER_MINUTE / minutes
    )
    value = milk_g / minutes
    low, high = value * max(1 - relative, 0.0), value * (1 + relative)
    return Flow(Between(value, low, high), level)


def _minute(after_ms: float) -> Number:
    return Number(after_ms / MS_PER_MINUTE, 1)
