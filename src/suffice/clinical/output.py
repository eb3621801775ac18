"""Wets and stools of the day against what is expected of it, and the diapers that say more.

Norms differ (leaflets, teaching, observed medians); each is asked separately. 'Too few' is said
only where the count is known: what was not written down is not known, not none. Wets alone never
reassure: infants with large losses have gone on wetting.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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
from suffice.message import Amount, Message, Number, message

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
    """Which diapers, and which lack of them, are to be acted on."""

    topic: ClassVar[str] = "output"

    stale_h: Constant
    """How old a full count may be and still stand for 'the last 24 hours'."""
    look_back_h: Constant
    """How far back a single diaper of a colour to act on is looked for."""
    urates_until_day: Constant
    """Last day on which pink or orange urates are tolerated."""
    meconium_until_day: Constant
    """Last day on which black stools are expected."""
    first_wet_by_h: Constant
    first_stool_by_h: Constant
    no_wet_h: Constant
    """Hours without a wet that are to be acted on, in the first months."""
    no_wet_older_h: Constant
    """The same later on."""
    no_wet_older_from_d: Constant
    """Age from which the longer time holds."""
    no_stool_h: Constant
    no_stool_until_day: Constant
    """Last day on which no stool in those hours is to be acted on."""


class OutputJudgement(msgspec.Struct, frozen=True, kw_only=True):
    """A count against one norm."""

    kind: OutputKind
    norm: Message
    verdict: Verdict
    day: int
    seen: Count
    expected: Figure | None = None


FLAGS_SAID: dict[str, Message] = {
    "urates": message("urates"),
    "pale stool": message("pale stool"),
    "red stool": message("red stool"),
    "late meconium": message("late meconium"),
    "no wet": message("no wet"),
    "no stool": message("no stool"),
    "no first wet": message("no first wet"),
    "no first stool": message("no first stool"),
}
"""What each flag is called in a sentence."""


class OutputFlag(msgspec.Struct, frozen=True, kw_only=True):
    """A diaper, or a lack of diapers, to act on.

    Attributes:
        name: Stable name of the flag.
        sentence: What was seen.
        working: The limit and its source.
        entry_ids: Entries it rests on.
    """

    name: Literal[
        "urates", "pale stool", "red stool", "late meconium", "no wet", "no stool", "no first wet",
        "no first stool",
    ]  # fmt: skip
    sentence: Message
    working: Working
    entry_ids: tuple[UUID, ...] = ()


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


def flags(
    entries: Iterable[Entry],
    infant_id: UUID,
    *,
    born_at: datetime,
    as_of: datetime,
    limits: OutputLimits,
) -> tuple[OutputFlag, ...]:
    """Diapers to act on, as of an instant; `entries` are those that stand."""
    own = [one for one in entries if one.infant_id == infant_id and one.true_at <= as_of]
    since = as_of - timedelta(hours=limits.look_back_h.value)
    coloured = [one for one in own if isinstance(one.fact, Stool) and one.fact.colour is not None]
    # Silence does not calm: the last colour that was seen stands until another one is seen.
    last = max((one.true_at for one in coloured), default=None)
    recent = [
        one for one in own if one.true_at > since or (one.true_at == last and one in coloured)
    ]
    return (
        *_seen_flags(recent, born_at, limits),
        *_absence_flags(own, infant_id, born_at, as_of, limits),
    )


def _seen_flags(
    recent: Sequence[Entry], born_at: datetime, limits: OutputLimits
) -> tuple[OutputFlag, ...]:
    """Flags for what was seen in a diaper."""
    urates: list[Entry] = []
    meconium: list[Entry] = []
    for entry in recent:
        day = day_of_life(age_h(born_at, entry.true_at))
        fact = entry.fact
        if isinstance(fact, Wet) and fact.urates and day > limits.urates_until_day.value:
            urates.append(entry)
        is_black = isinstance(fact, Stool) and fact.colour == "black"
        if is_black and day > limits.meconium_until_day.value:
            meconium.append(entry)
    found: list[OutputFlag] = []
    if urates:
        said = message(
            "Urates in the diaper after day {day}.",
            day=Number(limits.urates_until_day.value),
        )
        found.append(_flag("urates", said, urates, limits.urates_until_day))
    if meconium:
        said = message(
            "Black stool after day {day}.",
            day=Number(limits.meconium_until_day.value),
        )
        found.append(_flag("late meconium", said, meconium, limits.meconium_until_day))
    for colour in ("pale", "red"):
        stools = [
            one for one in recent if isinstance(one.fact, Stool) and one.fact.colour == colour
        ]
        if stools:
            said = message("Pale stool.") if colour == "pale" else message("Red stool.")
            name: Literal["pale stool", "red stool"] = (
                "pale stool" if colour == "pale" else "red stool"
            )
            found.append(_flag(name, said, stools, limits.look_back_h))
    return tuple(found)


def _absence_flags(
    own: Sequence[Entry],
    infant_id: UUID,
    born_at: datetime,
    as_of: datetime,
    limits: OutputLimits,
) -> tuple[OutputFlag, ...]:
    """Flags for diapers that are known to be missing."""
    hours = age_h(born_at, as_of)
    day = day_of_life(hours)

    def none_in(kind: OutputKind, window_h: float) -> bool:
        return count(
            observations(own, infant_id, kind),
            as_of,
            window_h=window_h,
            born_at=born_at,
            stale_h=limits.stale_h.value,
        ).is_none_seen

    found: list[OutputFlag] = []
    is_older = hours >= limits.no_wet_older_from_d.value * HOURS_PER_DAY
    no_wet = limits.no_wet_older_h if is_older else limits.no_wet_h
    no_stool = limits.no_stool_h
    if hours >= limits.first_wet_by_h.value and none_in("wet", hours):
        said = message("No wet since birth, at {age}.", age=Amount(hours, "h"))
        found.append(_flag("no first wet", said, (), limits.first_wet_by_h))
    elif hours >= HOURS_PER_DAY and none_in("wet", no_wet.value):
        found.append(
            _flag(
                "no wet", message("No wet in {span}.", span=Amount(no_wet.value, "h")), (), no_wet
            )
        )
    if hours >= limits.first_stool_by_h.value and none_in("stool", hours):
        said = message("No stool since birth, at {age}.", age=Amount(hours, "h"))
        found.append(_flag("no first stool", said, (), limits.first_stool_by_h))
    elif (
        hours >= HOURS_PER_DAY
        and day <= limits.no_stool_until_day.value
        and none_in("stool", no_stool.value)
    ):
        said = message("No stool in {span}.", span=Amount(no_stool.value, "h"))
        found.append(_flag("no stool", said, (), no_stool))
    return tuple(found)


def _flag(
    name: Literal[
        "urates", "pale stool", "red stool", "late meconium", "no wet", "no stool", "no first wet",
        "no first stool",
    ],
    sentence: Message,
    rests_on: Sequence[Entry],
    limit: Constant,
) -> OutputFlag:  # fmt: skip
    return OutputFlag(
        name=name,
        sentence=sentence,
        working=Working(formula=FLAGS_SAID[name], constants=(limit,)),
        entry_ids=tuple(entry.id for entry in rests_on),
    )
