"""How much milk a breast makes in 24 hours on this schedule, from what was expressed.

What came at the first session had gathered before it. Where nobody knows over how long, it is left out: what
came after it, divided by the time from the first session to the last, is what is made on this schedule. Where the
session before it is known, and the gap is none longer than the others nor far shorter, it counts with its time, and
the last counts in part: what the first one left, and the last one leaves, are best told from their own volumes.
Expressed hour by hour, the first two are left out. The sum of a day is not what is made, because a day holds one
interval more or less as it falls. Only what stayed in the breast at both ends, how finely a volume is read, a time that
was told, and how one day differs from the next make it uncertain.

How much a breast can store, and what it could make if it were emptied more often, do not follow from such a list, and
nothing is said of them. Where the infant fed at a breast between two sessions its milk went where nobody measured: the
closed form does not use the stretch, and `inference/production/` asks what fits it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import ClassVar, Final, Literal, NamedTuple

import msgspec
from scipy.special import ndtri

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Expression, Feed, TestWeight, WatchedFeed
from suffice.clinical.parameters import Parameters
from suffice.clinical.units import HOURS_PER_DAY, MINUTES_PER_HOUR
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.message import Age, Instant, Message, Words, message

OneSide = Literal["left", "right"]
SIDES: Final[tuple[OneSide, OneSide]] = ("left", "right")
SIDE_NAMES: Final[dict[OneSide, Message]] = {"left": message("left"), "right": message("right")}
LEVEL: Final = 0.8
UNIT: Final = "mL/d"


class ProductionParameters(Parameters, frozen=True, kw_only=True):
    """Which sessions count, and how sure the answer is."""

    topic: ClassVar[str] = "production"

    window_d: Constant
    """How far back sessions count."""
    fewest_count: Constant
    fewest_h: Constant
    """Shortest time from the first session to the last."""
    same_minutes: Constant
    """Nearer than this two volumes of one side are one session."""
    ask_gap_h: Constant
    """At a longer gap it is asked whether a session was left out."""
    break_gap_h: Constant
    """A longer gap ends a list."""
    first_gap_fraction: Constant
    """The least of the shortest gap over which the first volume may have gathered."""
    last_fraction: Constant
    """How much the last volume and its time count where the first ones do."""
    left_fraction: Constant
    """SD of what stays in the breast, as a share of what was expressed at that session."""
    reading_sd_ml: Constant
    steady_sd_fraction: Constant
    hourly_gap_h: Constant
    """Sessions none of which lies further from the one before are those of the hourly method."""
    hourly_fewest_count: Constant
    hourly_fewest_h: Constant
    told_step_h: Constant
    """To how many hours a time that somebody tells is rounded."""
    told_wrong_fraction: Constant
    """Share of the told times that are wrong."""
    told_wrong_by_fraction: Constant
    """By what share of itself a wrong one is off."""


class Before(NamedTuple):
    """Over how many hours the first volume gathered: told by somebody, else from the removal on record before it."""

    hours: float
    is_reported: bool = False

    def sd_h(self, parameters: ProductionParameters) -> float:
        """How far off it may be: rounding, and the share of told times that are wrong."""
        if not self.is_reported:
            return 0.0
        rounded_h = parameters.told_step_h.value / math.sqrt(12)
        share = math.sqrt(parameters.told_wrong_fraction.value)
        return math.hypot(rounded_h, share * parameters.told_wrong_by_fraction.value * self.hours)


class Session(NamedTuple):
    """One session of one side."""

    at: datetime
    ml: float


class LongGap(msgspec.Struct, frozen=True, kw_only=True):
    """A gap between two sessions at which one may not have been written down."""

    side: OneSide
    from_at: datetime
    to_at: datetime

    @property
    def hours(self) -> float:
        """How long it is."""
        return elapsed_h(self.from_at, self.to_at)

    @property
    def asks(self) -> Message:
        """What to ask about it."""
        return message(
            "{side}: nothing from {start} to {end} ({hours}). Was a session not written down?",
            side=SIDE_NAMES[self.side],
            start=Instant(self.from_at),
            end=Instant(self.to_at),
            hours=Age(self.hours),
        )


class SideProduction(msgspec.Struct, frozen=True, kw_only=True):
    """What one breast makes in 24 hours.

    Attributes:
        per_day: mL/day with its interval and working; None where it cannot be said.
        sd_ml: Its standard deviation, mL/day; 0 where there is no answer.
        why_none: Why it cannot be said; empty where it can.
        gaps: Gaps at which to ask for a session that was not written down.
        last_at: The last session that counted.
    """

    per_day: Figure | None = None
    sd_ml: float = 0.0
    why_none: Words = ""
    gaps: tuple[LongGap, ...] = ()
    last_at: datetime | None = None


class Production(msgspec.Struct, frozen=True, kw_only=True):
    """What both breasts make in 24 hours on this schedule; `together` only where both are known."""

    left: SideProduction
    right: SideProduction
    together: Figure | None = None
    why_none: Words = ""

    @property
    def gaps(self) -> tuple[LongGap, ...]:
        """The gaps of both sides at which to ask."""
        return (*self.left.gaps, *self.right.gaps)

    @property
    def sides(self) -> tuple[tuple[OneSide, SideProduction], ...]:
        """Each side with its answer."""
        return (("left", self.left), ("right", self.right))


def production(
    entries: Iterable[Entry], *, as_of: datetime, parameters: ProductionParameters
) -> Production:
    """Production of each side and of both in 24 hours, from the sessions of the last days.

    Args:
        entries: Entries of the family that stand, in any order: sessions of the parent, feeds of
            every infant.
        as_of: Sessions after it do not count.
        parameters: Which sessions count.
    """
    entries = list(entries)
    recent = recent_of(entries, as_of=as_of, parameters=parameters)
    since = as_of - timedelta(days=parameters.window_d.value)
    earlier_from = since - timedelta(hours=parameters.break_gap_h.value)
    earlier = [one for one in entries if earlier_from <= one.true_at < since]
    left, right = (_of_side(side, recent, earlier, parameters) for side in SIDES)
    return of_sides(left, right)


def recent_of(
    entries: Iterable[Entry], *, as_of: datetime, parameters: ProductionParameters
) -> list[Entry]:
    """The entries of the last days, in order of time; arguments as for `production`."""
    start = as_of - timedelta(days=parameters.window_d.value)
    return _in_order(one for one in entries if start <= one.true_at <= as_of)


def _in_order(entries: Iterable[Entry]) -> list[Entry]:
    return sorted(entries, key=lambda one: (one.true_at, str(one.id)))


def of_sides(left: SideProduction, right: SideProduction) -> Production:
    """Both sides together, where both are known."""
    if left.per_day is None or right.per_day is None:
        why = message("Not known for both sides.")
        return Production(left=left, right=right, why_none=why)
    return Production(
        left=left, right=right, together=_together(left, right, left.per_day, right.per_day)
    )


def made_per_day(
    sessions: Sequence[Session], parameters: ProductionParameters, before: Before | None = None
) -> tuple[float, float]:
    """What is made in 24 hours, in mL/day, and its standard deviation.

    made = 24 (sum of the volumes) / (hours in which they gathered), of all volumes but the first; where it
    is known over how long the first gathered, of all, the last with its hours counted in part.

    Args:
        sessions: At least two of one side, in order of time, at different times.
        parameters: What is uncertain.
        before: Over how long the first volume gathered; None where it is left out.
    """
    before_h = before.hours if before is not None else 0.0
    gaps_h = [elapsed_h(one.at, after.at) for one, after in pairwise(sessions)]
    counts = [0.0, *(1.0 for _ in gaps_h)]
    if before is not None:
        counts = [*(1.0 for _ in gaps_h), parameters.last_fraction.value]
    gathered_h = _sum_of_products(counts, (before_h, *gaps_h))
    per_h = HOURS_PER_DAY / gathered_h
    made = per_h * _sum_of_products(counts, [one.ml for one in sessions])
    ends = [parameters.left_fraction.value * one.ml for one in (sessions[0], sessions[-1])]
    read = parameters.reading_sd_ml.value * math.sqrt(len(sessions))
    earlier = made / gathered_h * before.sd_h(parameters) if before is not None else 0.0
    steady = parameters.steady_sd_fraction.value * made
    sd = math.hypot(per_h * math.hypot(*ends, read), steady, earlier)
    return made, sd


def _sum_of_products(counts: Sequence[float], values: Sequence[float]) -> float:
    return math.fsum(count * value for count, value in zip(counts, values, strict=True))


def _of_side(
    side: OneSide,
    entries: Sequence[Entry],
    earlier: Sequence[Entry],
    parameters: ProductionParameters,
) -> SideProduction:
    sessions = sessions_of(side, entries, parameters.same_minutes)
    fed = [one.true_at for one in entries if feeds_at(one, side)]
    runs = list(_runs(sessions, fed, parameters.break_gap_h))
    enough = [one for one in runs if _is_hourly(one, parameters) or _is_enough(one, parameters)]
    if not enough:
        return SideProduction(why_none=_why_none(sessions, fed, parameters))
    used = enough[-1]
    is_hourly = _is_hourly(used, parameters)
    before = None if is_hourly else _before(side, used, (*earlier, *entries), parameters)
    if is_hourly:  # the first two sessions bring what was there before
        used = used[1:]
    made, sd = made_per_day(used, parameters, before)
    working = _working(used, parameters, before)
    if is_hourly:
        working = _hourly(working, parameters)
    return SideProduction(
        per_day=_figure(made, sd, working),
        sd_ml=sd,
        gaps=tuple(_long_gaps(side, used, parameters.ask_gap_h)),
        last_at=used[-1].at,
    )


def _before(
    side: OneSide,
    run: Sequence[Session],
    entries: Sequence[Entry],
    parameters: ProductionParameters,
) -> Before | None:
    """Over how long the first volume of a run gathered; None where it is not known, or is a gap unlike the others.

    It is known from what was entered with the session, else from the session before it; neither where an
    infant fed at that breast in between. In a longer gap a breast fills up and makes less; after a much shorter
    one most of what comes was left behind by the removal before, and was not made since.
    """
    first = run[0].at
    reported = [
        one.fact.hours_since_last
        for one in entries
        if isinstance(one.fact, Expression)
        and one.true_at == first
        and (one.fact.left_ml if side == "left" else one.fact.right_ml) is not None
    ]
    told_h = next((hours for hours in reported if hours is not None), None)
    known_h = told_h or 0.0
    if told_h is None:
        before = [one.at for one in sessions_of(side, _in_order(entries), parameters.same_minutes)]
        last = max((at for at in before if at < first), default=None)
        if last is None:
            return None
        known_h = elapsed_h(last, first)
    began = first - timedelta(hours=known_h)
    if any(began <= one.true_at <= first and feeds_at(one, side) for one in entries):
        return None
    gaps_h = [elapsed_h(one.at, after.at) for one, after in pairwise(run)]
    least_h = parameters.first_gap_fraction.value * min(gaps_h)
    is_like = least_h <= known_h <= max(gaps_h)
    return Before(known_h, is_reported=told_h is not None) if is_like else None


def sessions_of(side: OneSide, entries: Iterable[Entry], same: Constant) -> list[Session]:
    """The sessions of one side; volumes close to one another are one session, at the first one's time."""
    found: list[Session] = []
    for entry in entries:
        fact = entry.fact
        if not isinstance(fact, Expression):
            continue
        ml = fact.left_ml if side == "left" else fact.right_ml
        if ml is None:
            continue
        near = found and elapsed_h(found[-1].at, entry.true_at) * MINUTES_PER_HOUR < same.value
        if near:
            found[-1] = Session(found[-1].at, found[-1].ml + ml)
        else:
            found.append(Session(entry.true_at, ml))
    return found


def feeds_at(entry: Entry, side: OneSide) -> bool:
    """Whether an infant fed, or may have fed, at this breast."""
    fact = entry.fact
    if isinstance(fact, WatchedFeed):
        named = {one.what for one in fact.events} & {"left", "right"}
        return not named or side in named
    is_at_breast = isinstance(fact, TestWeight) or (
        isinstance(fact, Feed) and fact.milk == "breast"
    )
    return is_at_breast and getattr(fact, "side", None) in {side, "both", None}


def _runs(
    sessions: Sequence[Session], fed: Sequence[datetime], break_gap: Constant
) -> Iterator[list[Session]]:
    """Stretches of sessions without a feed at the breast and without a very long gap between them."""
    run: list[Session] = []
    for one in sessions:
        if run and (
            elapsed_h(run[-1].at, one.at) > break_gap.value
            or any(run[-1].at <= at <= one.at for at in fed)
        ):
            yield run
            run = []
        run.append(one)
    if run:
        yield run


def _is_enough(run: Sequence[Session], parameters: ProductionParameters) -> bool:
    return (
        len(run) >= parameters.fewest_count.value
        and elapsed_h(run[0].at, run[-1].at) >= parameters.fewest_h.value
    )


def _is_hourly(run: Sequence[Session], parameters: ProductionParameters) -> bool:
    """Whether a run was expressed hour by hour, often enough and for long enough."""
    gaps_h = [elapsed_h(one.at, after.at) for one, after in pairwise(run)]
    return (
        len(run) >= parameters.hourly_fewest_count.value
        and sum(gaps_h) >= parameters.hourly_fewest_h.value
        and max(gaps_h) <= parameters.hourly_gap_h.value
    )


def _why_none(
    sessions: Sequence[Session], fed: Sequence[datetime], parameters: ProductionParameters
) -> Message:
    """Why nothing is said of a side: too little was written down, or the infant fed in between."""
    fewest, days = int(parameters.fewest_count.value), int(parameters.window_d.value)
    if not sessions:
        return message("No session in the last {days} days.", days=days)
    if any(sessions[0].at <= at <= sessions[-1].at for at in fed):
        return message(
            "The infant fed at this breast between the sessions, and what it took is not known."
            " Express only, at least {fewest} times, for a day; or weigh the feeds.",
            fewest=fewest,
        )
    return message(
        "{count} session in the last {days} days: at least {fewest} over {hours} are needed, without"
        " a gap of more than {gap}.",
        plural="{count} sessions in the last {days} days: at least {fewest} over {hours} are needed,"
        " without a gap of more than {gap}.",
        count=len(sessions),
        days=days,
        fewest=fewest,
        hours=Age(parameters.fewest_h.value),
        gap=Age(parameters.break_gap_h.value),
    )


def _long_gaps(side: OneSide, run: Sequence[Session], ask_gap: Constant) -> Iterator[LongGap]:
    for one, after in pairwise(run):
        if elapsed_h(one.at, after.at) > ask_gap.value:
            yield LongGap(side=side, from_at=one.at, to_at=after.at)


def _figure(made_ml: float, sd_ml: float, working: Working) -> Figure:
    half_ml = float(ndtri((1 + LEVEL) / 2)) * sd_ml
    return Figure(
        value=made_ml,
        unit=UNIT,
        low=max(made_ml - half_ml, 0.0),
        high=made_ml + half_ml,
        level=LEVEL,
        working=working,
    )


LEFT_OUT: Final = message(
    "24 x volumes after the first session / hours from the first session to the last; the"
    " first is left out, because nobody knows over how long it gathered"
)
COUNTED: Final = message(
    "24 x volumes / hours over which they gathered; the last counts in part with its hours, because"
    " nobody knows what it left behind"
)


def _working(
    run: Sequence[Session], parameters: ProductionParameters, before: Before | None
) -> Working:
    first = (
        []
        if before is None
        else [
            Quantity(name=message("first volume"), value=run[0].ml, unit="mL"),
            Quantity(name=message("gathered over"), value=round(before.hours, 1), unit="h"),
        ]
    )
    p = parameters
    reported = (p.told_step_h, p.told_wrong_fraction, p.told_wrong_by_fraction)
    return Working(
        formula=LEFT_OUT if before is None else COUNTED,
        inputs=(
            Quantity(name=message("sessions"), value=len(run), unit="count"),
            Quantity(
                name=message("volumes after the first"),
                value=math.fsum(one.ml for one in run[1:]),
                unit="mL",
            ),
            Quantity(
                name=message("from the first session to the last"),
                value=round(elapsed_h(run[0].at, run[-1].at), 1),
                unit="h",
            ),
            *first,
        ),
        constants=(
            parameters.window_d,
            *(() if before is None else (parameters.first_gap_fraction, parameters.last_fraction)),
            *(reported if before is not None and before.is_reported else ()),
            parameters.left_fraction,
            parameters.reading_sd_ml,
            parameters.steady_sd_fraction,
        ),
        notes=(
            message(
                "Made on this schedule: more sessions or fewer change it. What a breast can store, or"
                " could make, is not known from this."
            ),
        ),
    )


HOURLY: Final = message(
    "24 x volumes after the second session / hours from the second session to the last: expressed hour by"
    " hour, the first two are left out, because they bring what was there before"
)


def _hourly(working: Working, parameters: ProductionParameters) -> Working:
    """The working of what was expressed hour by hour."""
    coarse = message(
        "Volumes of an hour are small: weigh them to 1 g. Emptied each hour a breast may make more than on its usual day."
    )
    return msgspec.structs.replace(
        working,
        formula=HOURLY,
        constants=(*working.constants, parameters.hourly_gap_h),
        notes=(*working.notes, coarse),
    )


def _together(
    left: SideProduction, right: SideProduction, of_left: Figure, of_right: Figure
) -> Figure:
    made, sd = of_left.value + of_right.value, math.hypot(left.sd_ml, right.sd_ml)
    working = Working(
        formula=message("left and right added; their errors are independent"),
        inputs=(
            Quantity(name=SIDE_NAMES["left"], value=of_left.value, unit=UNIT),
            Quantity(name=SIDE_NAMES["right"], value=of_right.value, unit=UNIT),
        ),
        constants=of_left.working.constants,
        notes=of_left.working.notes,
    )
    return _figure(made, sd, working)
