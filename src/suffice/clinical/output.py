"""Wets and stools of the day against what is expected of it, and the diapers that say more.

Norms differ (leaflets, teaching, observed medians); each is asked separately. 'Too few' is said
only where the count is known: what was not written down is not known, not none. Wets alone never
reassure: infants with large losses have gone on wetting.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import ClassVar, Literal
from uuid import UUID

import msgspec

from suffice.clinical.age import age_h, day_of_life
from suffice.clinical.entry import Entry, Stool, Wet
from suffice.clinical.output_count import Count, OutputKind, count, observations
from suffice.clinical.parameters import ConstantSeries, Parameters, WordSeries
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.message import Message, message

Verdict = Literal["enough", "too few", "not known", "too early", "no norm"]


class OutputNorm(Parameters, frozen=True, kw_only=True):
    """One source's expectation by day of life (day 1 = the first 24 h)."""

    name: ClassVar[Message]

    wets_count_per_day: ConstantSeries
    """At least so many."""
    stools_count_per_day: ConstantSeries
    stool_colours_words: WordSeries | None = None
    """Colours that fit the day."""


class LeafletNorm(OutputNorm, frozen=True, kw_only=True):
    """Leaflets for families of the United Kingdom."""

    topic: ClassVar[str] = "output_leaflet"
    name: ClassVar[Message] = message("leaflets for families")


class TaughtNorm(OutputNorm, frozen=True, kw_only=True):
    """What is taught in the United States."""

    topic: ClassVar[str] = "output_taught"
    name: ClassVar[Message] = message("common teaching")


class ObservedMedians(OutputNorm, frozen=True, kw_only=True):
    """Medians of breastfed infants: half of them have fewer, so never a limit."""

    topic: ClassVar[str] = "output_observed"
    name: ClassVar[Message] = message("observed medians")


class OutputLimits(Parameters, frozen=True, kw_only=True):
    """Over which hours diapers and the lack of them are looked at."""

    topic: ClassVar[str] = "output"

    stale_h: Constant
    """How old a full count may be and still stand for 'the last 24 hours'."""
    look_back_h: Constant
    """How far back a single diaper of a colour to act on is looked for."""
    no_wet_h: Constant
    """Hours without a wet that are to be acted on, in the first months."""
    no_wet_older_h: Constant
    """The same later on."""


class OutputJudgement(msgspec.Struct, frozen=True, kw_only=True):
    """A count against one norm."""

    kind: OutputKind
    norm: Message
    verdict: Verdict
    day: int
    seen: Count
    expected: Figure | None = None


def day_count(
    entries: Iterable[Entry],
    infant_id: UUID,
    kind: OutputKind,
    *,
    born_at: datetime,
    as_of: datetime,
    limits: OutputLimits,
) -> Count:
    """Bounds of the wets or stools of the last 24 hours; `entries` are those that stand."""
    return count(
        observations(entries, infant_id, kind),
        as_of,
        window_h=HOURS_PER_DAY,
        born_at=born_at,
        stale_h=limits.stale_h.value,
    )


def expected_output(norm: OutputNorm, kind: OutputKind, day: int) -> Figure | None:
    """How many of a day of life a norm expects at least; None where it says nothing."""
    series = norm.wets_count_per_day if kind == "wet" else norm.stools_count_per_day
    if not series.covers(day):
        return None
    constant = series.at(day)
    return Figure(
        value=constant.value,
        unit="{#}/d",
        low=constant.low,
        high=constant.high,
        working=Working(
            formula=message("at least, {norm}", norm=norm.name),
            inputs=(Quantity(name=message("day of life"), value=day, unit="1"),),
            constants=(constant,),
        ),
    )


def judge(seen: Count, kind: OutputKind, norm: OutputNorm, *, born_at: datetime) -> OutputJudgement:
    """A count of 24 hours against a norm of the day in which the count ends.

    'enough' as soon as the certain number reaches the norm; 'too few' only where even the
    possible number does not; 'too early' before a whole day has passed; else 'not known'.
    """
    hours = age_h(born_at, seen.until)
    # A stretch that ends on the stroke of a day speaks of the day before.
    day = day_of_life(hours) if hours % HOURS_PER_DAY or hours == 0 else day_of_life(hours) - 1
    expected = expected_output(norm, kind, day)
    verdict: Verdict = "not known"
    if expected is None:
        verdict = "no norm"
    elif seen.low >= expected.value:
        verdict = "enough"
    elif hours < HOURS_PER_DAY:
        verdict = "too early"
    elif seen.high is not None and seen.high < expected.value:
        verdict = "too few"
    return OutputJudgement(
        kind=kind, norm=norm.name, verdict=verdict, day=day, seen=seen, expected=expected
    )


def colour_fits(colour: str, norm: OutputNorm, day: int) -> bool | None:
    """Whether a stool's colour is among those of its day; None where the norm says nothing."""
    words = norm.stool_colours_words
    if words is None or not words.covers(day):
        return None
    return colour in words.at(day)


def current_diapers(
    entries: Iterable[Entry], infant_id: UUID, *, as_of: datetime, limits: OutputLimits
) -> tuple[Entry, ...]:
    """The diapers that still count for now, in the order given; `entries` are the current ones.

    Those of the hours of the look-back, the last coloured stool and the last wet however old:
    silence does not calm, so a colour counts until another one is seen, and urates until a wet
    without.
    """
    own = [one for one in entries if one.infant_id == infant_id and one.true_at <= as_of]
    since = as_of - timedelta(hours=limits.look_back_h.value)
    coloured = [one for one in own if isinstance(one.fact, Stool) and one.fact.colour is not None]
    wet = [one for one in own if isinstance(one.fact, Wet) and one.fact.count > 0]
    last = {
        id(one)
        for kind in (coloured, wet)
        for one in kind
        if one.true_at == max(other.true_at for other in kind)
    }
    return tuple(one for one in own if one.true_at > since or id(one) in last)


def is_none_in(
    entries: Iterable[Entry],
    infant_id: UUID,
    kind: OutputKind,
    *,
    window_h: float,
    born_at: datetime,
    as_of: datetime,
    limits: OutputLimits,
) -> bool | None:
    """Whether there was none in the last hours; None where not every diaper of them is known.

    Args:
        entries: The current entries.
        infant_id: Whose diapers.
        kind: Wets or stools.
        window_h: How many hours are asked about, above 0.
        born_at: The instant of birth.
        as_of: The instant of the question.
        limits: How old a full count may be.
    """
    own = [one for one in entries if one.infant_id == infant_id and one.true_at <= as_of]
    counted = observations(own, infant_id, kind)
    if not any(one.over_h for one in counted):
        # Only a count over a time can say that there was none.
        return None
    seen = count(
        counted,
        as_of,
        window_h=window_h,
        born_at=born_at,
        stale_h=limits.stale_h.value,
    )
    return None if seen.high is None else seen.is_none_seen
