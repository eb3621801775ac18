"""Wets and stools of the day against what is expected of it, and the diapers that say more.

Norms differ (leaflets, teaching, observed medians); each is asked separately. 'Too few' is said
only where the count is known: what was not written down is not known, not none. Wets alone never
reassure: infants with large losses have gone on wetting.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import ClassVar, Literal, NamedTuple
from uuid import UUID

import msgspec

from suffice.clinical.age import age_h, day_of_life, elapsed_h
from suffice.clinical.entry import Entry
from suffice.clinical.output_count import Count, Observation, OutputKind, count, observations
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
    keys: ClassVar[Mapping[str, str]] = {"well_fraction": "gain.well_fraction"}

    stale_h: Constant
    """How old a full count may be and still stand for 'the last 24 hours'."""
    no_wet_h: Constant
    """Hours without a wet that are to be acted on, in the first months."""
    no_wet_older_h: Constant
    """The same later on; in the first months the hours that are to be acted on the same day."""
    no_wet_longer_h: Constant
    """Hours without a wet that are to be acted on the same day, later on."""
    half_from_h: Constant
    """From which age half of a norm, and stools, are judged."""
    norm_rises_h: Constant
    """Over how many hours of a day a norm rises from that of the day before."""
    norm_until_d: Constant
    """Until which age the norms speak."""
    part_from_h: Constant
    """How many hours of a day must be counted for its part to be judged."""
    no_stool_older_h: Constant
    """Hours without a stool that are noted once stools may be rare."""
    formula_stool_h: Constant
    """Hours without a stool that are asked about where only formula is fed, after the first week."""
    first_wet_late_by_h: Constant
    """By when every healthy newborn has wetted."""
    first_stool_late_by_h: Constant
    """By when nearly every newborn has passed a stool."""
    older_wets_count_per_day: Constant
    """At least so many wets where no norm speaks any more."""
    one_count_per_day: Constant
    """One, of stools where no norm speaks any more."""
    urates_from_h: Constant
    """From which age urates do not end with one clear wet."""
    calm_diapers_count: Constant
    """How many diapers without what was seen end it: wets without urates, stools with colour."""
    strong_gain_g_per_day: Constant
    """A gain since the lowest weight that makes up for a low count."""
    well_fraction: Constant
    """Share of healthy infants who gain less, from which a month's gain makes up for it."""


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


class NoneRun(NamedTuple):
    """A stretch of which it is known that there was none.

    Attributes:
        start: From after this instant.
        end: Up to this instant.
        is_from_birth: Whether it begins at birth.
    """

    start: datetime
    end: datetime
    is_from_birth: bool

    @property
    def hours(self) -> float:
        """How long it is."""
        return elapsed_h(self.start, self.end)


def none_runs(seen: Sequence[Observation], *, born_at: datetime) -> tuple[NoneRun, ...]:
    """The longest stretches that counts of none cover without a gap, in order of time.

    One diaper that was seen within such a stretch ends it, and another begins after it.

    Args:
        seen: Observations in any order.
        born_at: Instant of birth; no stretch begins before it.
    """
    birth = born_at.astimezone(UTC)
    spans = sorted(
        (max(birth, at - timedelta(hours=one.over_h)), at)
        for one in seen
        if one.over_h and not one.count
        for at in (one.true_at.astimezone(UTC),)
    )
    covered: list[tuple[datetime, datetime]] = []
    for start, end in spans:
        if covered and start <= covered[-1][1]:
            covered[-1] = (covered[-1][0], max(covered[-1][1], end))
        elif start < end:
            covered.append((start, end))
    ones = sorted(one.true_at.astimezone(UTC) for one in seen if one.count and not one.over_h)
    return tuple(run for start, end in covered for run in _split(start, end, ones, birth))


def _split(
    start: datetime, end: datetime, ones: Sequence[datetime], birth: datetime
) -> Iterator[NoneRun]:
    within = [at for at in ones if start < at <= end]
    for begin, finish in pairwise((start, *within, end)):
        if begin < finish:
            # What ends with a diaper held none just before it; the diaper is not part of it.
            yield NoneRun(begin, finish, begin == birth)


def day_ending(seen: Sequence[Observation], end: datetime, *, born_at: datetime) -> Count:
    """Bounds of the 24 hours that end at an instant, as what was seen up to then tells.

    Args:
        seen: Observations in any order.
        end: The end of the day.
        born_at: Instant of birth.
    """
    start = end - timedelta(hours=HOURS_PER_DAY)
    within = [one for one in seen if start < one.true_at <= end]
    return count(within, end, window_h=HOURS_PER_DAY, born_at=born_at)
