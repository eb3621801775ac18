"""Production of a day where the infant feeds between expression sessions: an answer, or what to log for one."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from functools import lru_cache
from itertools import pairwise
from typing import Final

import msgspec
import numpy as np
from scipy.special import ndtri

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry
from suffice.clinical.production import (
    LEVEL,
    UNIT,
    LongGap,
    OneSide,
    Production,
    ProductionParameters,
    SideProduction,
    of_sides,
    production,
    recent_of,
)
from suffice.clinical.production_fed import BreastEvent, fed_stretch
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Quantity, Working
from suffice.inference.production.model import DRAWS, Courses, Event, FedParameters, courses
from suffice.message import Amount, Message, message

SEEDS: Final = (1, 2)
"""Of the draws: the same entries give the same bits. One set of courses that has lost its way cannot be told by
itself; of two, each must hold the other's middle."""
FEWEST_ALIKE: Final = 50.0
"""With fewer courses that fit, four times as many are drawn; with fewer of those it is no answer."""
ENDS: Final = ((1 - LEVEL) / 2, 0.5, (1 + LEVEL) / 2)
MORE: Final = 4
TAIL_SD: Final = 1.5
"""An answer that lies farther below what is thought likely beforehand than so many SDs (log scale) is drawn upward by
that belief: of breasts that make little it would say too much, so its high end alone is said."""


def production_with_feeds(
    entries: Iterable[Entry],
    *,
    as_of: datetime,
    parameters: ProductionParameters,
    fed: FedParameters,
) -> Production:
    """Production of each side and of both: the closed form, and courses that fit where the infant fed in between.

    Args:
        entries: Entries of the family that stand, in any order.
        as_of: What came after it does not count.
        parameters: Which sessions count.
        fed: How a breast fills and what is taken from it, before anything of it is known.
    """
    every = tuple(entries)
    plain = production(every, as_of=as_of, parameters=parameters)
    recent = recent_of(every, as_of=as_of, parameters=parameters)
    left, right = (
        one if one.per_day is not None else _of_side(side, one, recent, parameters, fed)
        for side, one in plain.sides
    )
    return of_sides(left, right)


def _of_side(
    side: OneSide,
    plain: SideProduction,
    entries: Sequence[Entry],
    parameters: ProductionParameters,
    fed: FedParameters,
) -> SideProduction:
    """One side; as it was where no stretch with feeds is long enough."""
    stretch = fed_stretch(side, entries, parameters)
    if not stretch:
        return plain
    gaps = tuple(_long_gaps(side, stretch, parameters))
    made = _made_ml(_events(stretch, fed), fed, parameters.reading_sd_ml.value)
    if made is None:
        return SideProduction(why_none=_does_not_fit(), gaps=gaps)
    per_day = HOURS_PER_DAY / elapsed_h(stretch[0].at, stretch[-1].at)
    low, middle, high = (one * per_day for one in made)
    if middle < fed.rate_ml_per_day.value * math.exp(-TAIL_SD * fed.rate_log_sd_ratio.value):
        return SideProduction(why_none=_too_little(high, parameters), gaps=gaps)
    if high > fed.widest_ratio.value * low:
        return SideProduction(why_none=_too_wide(low, high, parameters), gaps=gaps)
    return SideProduction(
        per_day=Figure(
            value=middle,
            unit=UNIT,
            low=low,
            high=high,
            level=LEVEL,
            working=_working(stretch, fed),
        ),
        sd_ml=(high - low) / 2 / float(ndtri((1 + LEVEL) / 2)),
        gaps=gaps,
        last_at=stretch[-1].at,
    )


def _events(stretch: Sequence[BreastEvent], fed: FedParameters) -> tuple[Event, ...]:
    """The stretch as the model takes it."""
    return tuple(
        Event(at_h=elapsed_h(stretch[0].at, one.at), kind=one.kind, ml=_ml(one, fed))
        for one in stretch
    )


@lru_cache(maxsize=256)
def _made_ml(
    events: tuple[Event, ...], fed: FedParameters, reading_sd_ml: float
) -> tuple[float, float, float] | None:
    """Low end, middle and high end of what was made, mL; None where too few courses fit, or two sets disagree. Kept."""
    for draws in (DRAWS, MORE * DRAWS):
        each = [courses(events, fed, reading_sd_ml, seed=seed, draws=draws) for seed in SEEDS]
        found = [one for one in each if one is not None and one.alike >= FEWEST_ALIKE]
        if len(found) == len(each) and _agree(found):
            return _ends(_pooled(found))
    return None


def _agree(found: Sequence[Courses]) -> bool:
    """Whether the middle of each lies within the interval of each."""
    ends = [_ends(one) for one in found]
    return all(low <= middle <= high for low, _, high in ends for _, middle, _ in ends)


def _pooled(found: Sequence[Courses]) -> Courses:
    return Courses(
        made_ml=np.concatenate([one.made_ml for one in found]),
        weight=np.concatenate([one.weight for one in found]) / len(found),
        alike=math.fsum(one.alike for one in found),
    )


def _ends(found: Courses) -> tuple[float, float, float]:
    """Low end, middle and high end of what was made, mL."""
    order = np.argsort(found.made_ml, kind="stable")
    below = np.cumsum(found.weight[order])
    at = np.searchsorted(below, ENDS)
    low, middle, high = found.made_ml[order][np.minimum(at, order.size - 1)].tolist()
    return low, middle, high


def _ml(one: BreastEvent, fed: FedParameters) -> float:
    if one.taken_g is not None:
        return one.taken_g / fed.density_g_per_ml.value
    return math.nan if one.ml is None else one.ml


def _does_not_fit() -> Message:
    return message(
        "These volumes do not fit one breast that fills and is fed from: check them, and whether a"
        " session or a feed was not written down."
    )


def _too_little(high: float, parameters: ProductionParameters) -> Message:
    return message(
        "Little: at most about {high} in 24 h. How little cannot be said while the infant feeds in"
        " between: express only, at least {fewest} times, for a day.",
        high=Amount(high, "mL"),
        fewest=int(parameters.fewest_count.value),
    )


def _too_wide(low: float, high: float, parameters: ProductionParameters) -> Message:
    return message(
        "Between {low} and {high} in 24 h: too wide to use, because what the infant took is not"
        " known. Log more sessions with the feeds between them, weigh a feed at this breast, or express"
        " only, at least {fewest} times, for a day.",
        low=Amount(low, "mL"),
        high=Amount(high, "mL"),
        fewest=int(parameters.fewest_count.value),
    )


def _long_gaps(
    side: OneSide, stretch: Sequence[BreastEvent], parameters: ProductionParameters
) -> Iterator[LongGap]:
    for one, after in pairwise(stretch):
        if elapsed_h(one.at, after.at) > parameters.ask_gap_h.value:
            yield LongGap(side=side, from_at=one.at, to_at=after.at)


def _working(stretch: Sequence[BreastEvent], fed: FedParameters) -> Working:
    sessions = [one for one in stretch if one.kind == "session"]
    return Working(
        formula=message(
            "{count} courses of one breast that fills the slower the fuller it is, weighted by how well"
            " they fit the volumes: what they made from the first session to the last, in 24 hours",
            count=len(SEEDS) * DRAWS,
        ),
        inputs=(
            Quantity(name=message("sessions"), value=len(sessions), unit="count"),
            Quantity(
                name=message("feeds at this breast between them"),
                value=len(stretch) - len(sessions),
                unit="count",
            ),
            Quantity(
                name=message("of these weighed"),
                value=sum(one.kind == "weighed" for one in stretch),
                unit="count",
            ),
            Quantity(
                name=message("volumes after the first"),
                value=math.fsum(one.ml or 0.0 for one in sessions[1:]),
                unit="mL",
            ),
            Quantity(
                name=message("from the first session to the last"),
                value=round(elapsed_h(stretch[0].at, stretch[-1].at), 1),
                unit="h",
            ),
        ),
        constants=tuple(
            getattr(fed, name) for name in msgspec.structs.asdict(fed) if name != "widest_ratio"
        ),
        notes=(
            message(
                "What the infant took was not measured: what is usual is used instead. Weigh a feed, or"
                " express only for a day, to know it better.",
            ),
            message(
                "Made on this schedule: more sessions or fewer change it. What a breast can store, or"
                " could make, is not known from this."
            ),
        ),
    )
