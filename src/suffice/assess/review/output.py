"""Wets and stools of one infant, counted by day against the norm that the clinic chose.

Time answers nothing: a count that was too low stands, at the age at which it was taken, until a later
day held enough or a physician answered. Of several that stand the lowest counts.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple
from uuid import UUID

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.diaper import review_diapers
from suffice.assess.review.gap import weighed_lately
from suffice.assess.review.output_count import counted_figure, counted_words, differing_words
from suffice.assess.review.output_day import Day, Known, rising_norm, share_of_norm, share_of_rising
from suffice.assess.review.result import Reviewed, measure, missing, sign, together
from suffice.assess.review.weight import usable
from suffice.assess.rules.table import Measure, limit_of
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Feed, Wet
from suffice.clinical.output import NoneRun, day_count, day_ending, judge, none_runs
from suffice.clinical.output_count import (
    KIND_OF,
    Count,
    Observation,
    OutputKind,
    count,
    disputed,
    observations,
)
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Working
from suffice.message import Instant, Number, Words, message

PLURAL: dict[OutputKind, str] = {"wet": "wets", "stool": "stools"}
NORM: Final[dict[OutputKind, str]] = {"wet": "choice:wets_norm", "stool": "chosen:stools_norm"}
NOT_COUNTED: Final = message("Not counted in the last 24 hours (not recorded does not mean none).")
Seen = tuple[Observation, ...]


class Gained(NamedTuple):
    """What the weights say that may make up for few diapers.

    Attributes:
        has_risen: Whether the latest weight is above the lowest one.
        since_lowest: Gain since the lowest weight, in g/d; None where there is none.
        months: Share of healthy infants who gain less, of the latest gain over about a month.
    """

    has_risen: bool = False
    since_lowest: Figure | None = None
    months: tuple[Measure, ...] = ()


class Days(NamedTuple):
    """The days counted since the last one that held enough.

    Attributes:
        enough: The last day that held enough; None where none did.
        short: The later ones that are fully counted, the latest first.
    """

    enough: Day | None
    short: tuple[Day, ...]

    def unanswered(self, asked: _Asked) -> tuple[Day, ...]:
        """The short days that no physician has answered."""
        return tuple(one for one in self.short if not asked.is_answered(one.seen))


class _Asked(NamedTuple):
    """What is known of one kind of one infant."""

    kind: OutputKind
    case: Case
    parameters: CareParameters
    born_at: datetime
    gained: Gained
    seen: tuple[Observation, ...]
    known: tuple[Known, ...]
    disputed: tuple[Observation, ...]

    @property
    def plural(self) -> str:
        return PLURAL[self.kind]

    @property
    def stained(self) -> tuple[datetime, ...]:
        """When wets with urates were seen, in order of time; none where stools are asked."""
        if self.kind != "wet":
            return ()
        facts = self.case.facts(Wet)
        return tuple(entry.true_at for entry, fact in facts if fact.urates and fact.count)

    def age_h(self, at: datetime) -> float:
        return elapsed_h(self.born_at, at)

    def expected(self, age_h: float) -> Constant:
        """How many a day at that age must hold at least."""
        limits = self.parameters.output
        norm = limit_of(NORM[self.kind], self.case.content, age_h)
        later = {"wet": limits.older_wets_count_per_day, "stool": limits.one_count_per_day}
        return norm or later[self.kind]

    def rising(self, age_h: float) -> float:
        """The same, on its way from the norm of the day before to that of the day."""
        rises_h = self.parameters.output.norm_rises_h.value
        return rising_norm(lambda at_h: self.expected(at_h).value, age_h, rises_h)

    def is_answered(self, counted: Count) -> bool:
        """Whether a physician who knew of a count no higher than it is now has answered."""
        for known in self.known:
            if counted.until > known.at:
                continue
            then = count(known.seen, counted.until, window_h=counted.window_h, born_at=self.born_at)
            is_counted = then.high is not None and then.until == counted.until
            if is_counted and (then.high or 0) <= (counted.high or 0):
                return True
        return False

    def is_run_answered(self, run: NoneRun) -> bool:
        """Whether a physician who knew of a stretch as long as it is now has answered."""
        return any(
            one.start <= run.start and run.end <= one.end
            for known in self.known
            if run.end <= known.at
            for one in none_runs(known.seen, born_at=self.born_at)
        )

    def within(self, start: datetime, end: datetime) -> tuple[UUID | None, ...]:
        """The entries that speak of a stretch of time."""
        return tuple(
            one.entry_id
            for one in self.seen
            if one.true_at - timedelta(hours=one.over_h or 0.0) < end and one.true_at > start
        )

    def differing(self, start: datetime, end: datetime) -> tuple[Words, ...]:
        """What is said of one that was seen in hours of a stretch counted as none."""
        return differing_words(self.kind, self.disputed, start, end)

    def is_seen_from(self, at: datetime) -> bool:
        """Whether one was seen at an instant or later."""
        return any(one.count and one.true_at >= at for one in self.seen)

    def has_gained_since(self, at_h: float) -> bool:
        """Whether a weight after that age shows a strong gain, since the lowest or of the last month."""
        gain, limits = self.gained.since_lowest, self.parameters.output
        if not self.gained.has_risen:
            return False
        if self.has_gained_in_a_month(at_h):
            return True
        if gain is None or gain.value < limits.strong_gain_g_per_day.value:
            return False
        weighed_h = max((one.age_h for one in usable(self.case)), default=0.0)
        return weighed_h > at_h and (gain.low is None or gain.low > 0)

    def has_gained_in_a_month(self, at_h: float) -> bool:
        """Whether a weight after that age shows a strong gain of the last month."""
        least = self.parameters.output.well_fraction.value
        return any(one.age_h > at_h and one.value >= least for one in self.gained.months)

    def is_thriving_at(self, at_h: float) -> bool:
        """Whether a strong gain is known at that age: by a weight since, or by one that still stood.

        Past the first weeks a gain since the lowest weight would hide one that has stopped.
        """
        horizons = self.parameters.horizons
        is_young = at_h < horizons.older_from_age_d.value * HOURS_PER_DAY
        stands_d = horizons.weight_young_d if is_young else horizons.weight_older_d
        since_h = at_h - stands_d.value * HOURS_PER_DAY
        until_h = self.parameters.output.norm_until_d.value * HOURS_PER_DAY
        if self.gained.months or since_h >= until_h:
            return self.has_gained_in_a_month(since_h)
        return self.has_gained_since(since_h)


def review_output(case: Case, parameters: CareParameters, gained: Gained) -> Reviewed:
    """The counts by day, what was missing, and what was seen in diapers.

    Args:
        case: The infant.
        parameters: The norms of the clinic's choice, and the limits of a count.
        gained: What the weights say.
    """
    born_at = case.born_at
    if born_at is None:
        return missing(*(f"{plural}_24h" for plural in PLURAL.values()), why=case.no_birth)
    parts: list[Reviewed] = []
    for kind in PLURAL:
        own = case.of_kinds(KIND_OF[kind])
        seen, differing = _apart(observations(own, case.infant.id, kind))
        known = tuple(
            Known(one.at, _apart(observations(one.entries, case.infant.id, kind))[0])
            for one in case.answers.known_then
        )
        asked = _Asked(kind, case, parameters, born_at, gained, seen, known, differing)
        days = _days(asked)
        parts += _review_figure(asked)
        parts += _review_days(asked, days)
        parts += _review_wets(asked, days) if kind == "wet" else _review_stools(asked)
        if kind == "wet":
            parts.append(_thriving(asked, days))
    parts += review_diapers(case, parameters.output, has_risen=gained.has_risen)
    return together(parts)


def _apart(seen: Seen) -> tuple[Seen, Seen]:
    """What is judged, and what was seen in hours counted as none: the worse of the two is judged."""
    differing = disputed(seen)
    kept = [one for one in seen if one not in differing] if differing else seen
    return tuple(sorted(kept, key=lambda one: one.true_at)), differing


def _review_figure(asked: _Asked) -> Iterator[Reviewed]:
    """The count of the last 24 hours, and what is expected, for the page."""
    case, limits = asked.case, asked.parameters.output
    seen = day_count(
        case.of_kinds(KIND_OF[asked.kind]),
        case.infant.id,
        asked.kind,
        born_at=asked.born_at,
        as_of=case.as_of,
        limits=limits,
    )
    norm = asked.parameters.output_norms[asked.kind]
    expected = judge(seen, asked.kind, norm, born_at=asked.born_at).expected
    name = f"{asked.plural}_24h"
    if seen.high is None and seen.low == 0:
        yield missing(name, why=NOT_COUNTED)
    else:
        yield Reviewed(figures={name: counted_figure(seen, asked.kind)})
    if expected is not None:
        yield Reviewed(figures={f"{name}_expected": expected})
    else:
        yield missing(f"{name}_expected", why=message("The norm says nothing about this day."))


def _days(asked: _Asked) -> Days:
    """Every day that ends with an observation, back to the last that held enough."""
    times = [one.true_at for one in asked.seen]
    spans = [one.true_at for one in asked.seen if one.over_h]
    now, day = asked.case.as_of, timedelta(hours=HOURS_PER_DAY)
    # Before the first count over a time no day can be short; the last day may hold enough all the
    # same, and so may the one before the latest urates, however long ago that was.
    first = min([*spans[:1], now - day, *(at - day for at in asked.stained[-1:])])
    short: list[Day] = []
    for end in sorted({now, *times}, reverse=True):
        age_h = asked.age_h(end)
        if end < first or age_h < HOURS_PER_DAY:
            break
        start = end - day
        within = asked.seen[bisect_right(times, start) : bisect_right(times, end)]
        found = Day(
            day_ending(within, end, born_at=asked.born_at),
            age_h,
            asked.expected(age_h),
            asked.rising(age_h),
            tuple(one.entry_id for one in within),
        )
        if found.seen.low >= found.expected.value:
            return Days(found, tuple(short))
        if found.seen.high is not None:
            short.append(found)
    return Days(None, tuple(short))


def _review_days(asked: _Asked, days: Days) -> Iterator[Reviewed]:
    """The lowest days that stand, or the latest that held enough, against the norm of their day."""
    uncleared = [one for one in days.unanswered(asked) if not _is_made_up(asked, one)]
    if not uncleared and days.enough is not None and days.enough.seen.high is not None:
        # What is certain may be enough, and is no count of the day where more may have come.
        uncleared = [days.enough]
    if asked.kind == "wet":
        older_h = asked.parameters.output.norm_until_d.value * HOURS_PER_DAY
        older = [one for one in uncleared if one.age_h >= older_h]
        if older and not days.unanswered(asked):
            # Enough for its age, and fewer than before: a gain since says that it was enough.
            uncleared = [one for one in uncleared if not asked.has_gained_in_a_month(one.age_h)]
        elif older:
            at_h = min(older, key=share_of_norm).age_h
            yield sign("few_wets_and_thriving", asked.is_thriving_at(at_h))
    for day in _lowest_of_each_age(asked, uncleared, share_of_norm):
        yield measure(f"{asked.plural}_count_per_day", _measure(asked, day))
    if asked.kind == "wet":
        for day in _lowest_of_each_age(asked, uncleared, share_of_rising):
            yield measure("wets_to_look_at_percent", _share_measure(asked, day, share_of_rising))


def _is_made_up(asked: _Asked, day: Day) -> bool:
    """Whether a strong gain since makes up for a short day; for one of no stool a stool must come too."""
    if day.age_h >= asked.parameters.output.norm_until_d.value * HOURS_PER_DAY:
        return False
    is_none = asked.kind == "stool" and not day.seen.high
    return asked.has_gained_since(day.age_h) and (not is_none or asked.is_seen_from(day.seen.until))


def _lowest_of_each_age(
    asked: _Asked, days: Sequence[Day], share: Callable[[Day], float]
) -> Iterator[Day]:
    """Of each stretch of ages in which other rows speak the day that is furthest below its norm."""
    limits = asked.parameters.output
    edges_h = (limits.half_from_h.value, limits.norm_until_d.value * HOURS_PER_DAY)
    stretches: dict[int, list[Day]] = {}
    for day in days:
        stretches.setdefault(bisect_right(edges_h, day.age_h), []).append(day)
    for _, found in sorted(stretches.items()):
        yield min(found, key=share)


def _measure(asked: _Asked, day: Day, norm: float | None = None) -> Measure:
    """A count as the table asks it: the number that is possible, since few must be certain."""
    seen = day.seen
    high = seen.high or 0
    counted: Words = counted_words(asked.kind, high)
    if high != seen.low:
        counted = message("At most {counted}", counted=counted)
    return Measure(
        value=float(high),
        age_h=day.age_h,
        at=seen.until,
        figure=counted_figure(seen, asked.kind),
        is_answered=asked.is_answered(seen),
        entry_ids=day.entry_ids,
        gaps=(
            ("counted", counted),
            ("day", math.ceil(day.age_h / HOURS_PER_DAY)),
            ("norm", Number(day.expected.value if norm is None else norm, 0)),
        ),
        says=asked.differing(seen.until - timedelta(hours=seen.window_h), seen.until),
    )


def _review_wets(asked: _Asked, days: Days) -> Iterator[Reviewed]:
    """How far below the norm, and the hours of which it is known that there was none."""
    limits = asked.parameters.output
    until_h = limits.norm_until_d.value * HOURS_PER_DAY
    short = days.unanswered(asked)
    judged = [one for one in short if limits.half_from_h.value <= one.age_h < until_h]
    if judged:
        for name, share in (
            ("wets_of_norm_percent", share_of_norm),
            ("wets_of_rising_norm_percent", share_of_rising),
        ):
            yield measure(name, _share_measure(asked, min(judged, key=share), share))
    yield from _review_part(asked, days)
    yield weighed_lately(asked.case, asked.parameters)
    runs = none_runs(asked.seen, born_at=asked.born_at)
    yield from _since_birth(asked, runs, "wet", limits.first_wet_late_by_h)
    for name, hours in (
        ("no_wet_in_shorter_time", limits.no_wet_h),
        ("no_wet_in_longer_time", limits.no_wet_older_h),
        ("no_wet_in_longest_time", limits.no_wet_longer_h),
    ):
        yield _run_sign(asked, name, [one for one in runs if one.hours >= hours.value], hours)
    dry = [one for one in runs if one.hours >= HOURS_PER_DAY and not one.is_from_birth]
    enough_at = days.enough.seen.until if days.enough else None
    uncleared = [one for one in dry if not _is_made_good(asked, one, enough_at)]
    yield _sign_of_run("dry_day", asked, uncleared)


def _thriving(asked: _Asked, days: Days) -> Reviewed:
    """Whether a day with enough wets and a strong gain stand beside the latest urates."""
    stained = asked.stained
    if not stained:
        return sign("urates_and_thriving", False)  # noqa: FBT003
    day_before = stained[-1] - timedelta(hours=HOURS_PER_DAY)
    is_enough = days.enough is not None and days.enough.seen.until >= day_before
    is_thriving = is_enough and not days.short and asked.has_gained_since(asked.age_h(day_before))
    return sign("urates_and_thriving", is_thriving)


def _is_made_good(asked: _Asked, run: NoneRun, enough_at: datetime | None) -> bool:
    """Whether a physician has answered, and a later day held enough."""
    is_enough = enough_at is not None and enough_at > run.end
    return is_enough and asked.is_run_answered(run)


def _review_stools(asked: _Asked) -> Iterator[Reviewed]:
    """The hours of which it is known that there was no stool, and what the infant is fed."""
    limits = asked.parameters.output
    runs = none_runs(asked.seen, born_at=asked.born_at)
    yield from _since_birth(asked, runs, "stool", limits.first_stool_late_by_h)
    for name, hours in (
        ("no_stool_in_two_days", limits.formula_stool_h),
        ("no_stool_in_a_week", limits.no_stool_older_h),
    ):
        yield _run_sign(asked, name, [one for one in runs if one.hours >= hours.value], hours)
    later = [one for one in runs if one.hours >= HOURS_PER_DAY and not one.is_from_birth]
    later = [] if any(one.count for one in asked.seen) else later
    yield _run_sign(asked, "no_stool_known", later, None)
    milks = {fact.milk for _, fact in asked.case.facts(Feed)}
    yield sign("formula_only", milks == {"formula"})
    birth = asked.case.birth
    yield sign("gestation_not_known", birth is None or birth.gestation_days is None)


def _share_measure(asked: _Asked, day: Day, share: Callable[[Day], float]) -> Measure:
    is_rising = share is share_of_rising
    found = _measure(asked, day, float(math.ceil(day.rising)) if is_rising else None)
    percent = 100 * share(day)
    working = Working(
        formula=message("100 x wets / wets of the norm"),
        inputs=found.figure.working.inputs,
        constants=(day.expected,),
    )
    return Measure(
        value=percent,
        age_h=day.age_h,
        at=found.at,
        is_answered=found.is_answered,
        # The norm grows from day to day: as many diapers a day later are no news.
        degree=-found.value,
        entry_ids=found.entry_ids,
        figure=Figure(value=percent, unit="%", working=working),
        gaps=found.gaps,
        says=found.says,
    )


def _review_part(asked: _Asked, days: Days) -> Iterator[Reviewed]:
    """Whether the latest count is of a part of a day only, and low for that part."""
    limits = asked.parameters.output
    spans = [one.true_at for one in asked.seen if one.over_h]
    known = [one.seen.until for one in (*days.short[:1], *([days.enough] if days.enough else []))]
    if not spans or any(at >= spans[-1] for at in known):
        yield sign("few_wets_in_part", False)  # noqa: FBT003
        return
    end = spans[-1]
    part_h = limits.part_from_h.value
    part = count(asked.seen, end, window_h=part_h, born_at=asked.born_at)
    expected = asked.expected(asked.age_h(end))
    least = math.floor(expected.value * part_h / HOURS_PER_DAY)
    is_few = part.high is not None and part.high < least and not asked.is_answered(part)
    yield sign(
        "few_wets_in_part",
        is_few,
        *asked.differing(end - timedelta(hours=part_h), end),
        age_h=asked.age_h(end),
        is_answered=asked.is_answered(part),
        degree=-float(part.high or 0),
        entry_ids=asked.within(end - timedelta(hours=part_h), end),
        working=Working(
            formula=message("wets in a part of a day, against that part of the norm"),
            constants=(limits.part_from_h, expected),
        ),
        counted=counted_words("wet", part.high or 0),
        hours=Number(part_h, 0),
        at=Instant(end),
    )


def _since_birth(
    asked: _Asked, runs: tuple[NoneRun, ...], kind: OutputKind, late: Constant
) -> Iterator[Reviewed]:
    """Whether there was none since birth: until one is seen; past the later age until it is answered."""
    first = [one for one in runs if one.is_from_birth]
    yield _run_sign(asked, f"no_{kind}_since_birth", first, None)
    lasting = [one for one in first if one.hours >= late.value and not asked.is_run_answered(one)]
    yield _sign_of_run(f"no_{kind}_by_the_later_age", asked, lasting, late)


def _run_sign(
    asked: _Asked, name: str, runs: list[NoneRun] | tuple[NoneRun, ...], hours: Constant | None
) -> Reviewed:
    """A lack that ends with the first one that is seen, or with an answer."""
    uncleared = [
        one for one in runs if not asked.is_seen_from(one.end) and not asked.is_run_answered(one)
    ]
    return _sign_of_run(name, asked, uncleared, hours)


def _sign_of_run(
    name: str, asked: _Asked, uncleared: list[NoneRun], hours: Constant | None = None
) -> Reviewed:
    """The longest of the stretches that stand, at the age at which it ended; not known without a count."""
    if not uncleared:
        is_absent = asked.seen and not any(not one.count for one in asked.seen)
        return sign(name, False if is_absent else None)
    run = max(uncleared, key=lambda one: (one.hours, one.end))
    return sign(
        name,
        True,  # noqa: FBT003
        *asked.differing(run.start, run.end),
        age_h=asked.age_h(run.end),
        is_answered=asked.is_run_answered(run),
        degree=run.hours,
        entry_ids=asked.within(run.start, run.end),
        working=Working(
            formula=message("none counted in that time"), constants=(hours,) if hours else ()
        ),
        hours=Number(run.hours, 0),
        at=Instant(run.end),
    )
