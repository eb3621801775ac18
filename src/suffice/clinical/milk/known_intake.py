"""How much milk is known to have been taken in a day, and how much of the day that covers.

What was poured or weighed is known; a feed at the breast without a weight is milk of unknown
amount, never none. So the sum is 'at least' whenever one such feed stands beside it, or when the
feeds written down leave a gap too long to be believed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import ClassVar, Literal
from uuid import UUID

import msgspec
from scipy.special import ndtri

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Feed, TestWeight
from suffice.clinical.milk.test_weight import Technique, TestWeightParameters, Transfer, transfer
from suffice.clinical.parameters import Parameters
from suffice.clinical.units import HOURS_PER_DAY, MINUTES_PER_HOUR
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import Problem, SufficeError
from suffice.message import Amount, Message, message

Milk = Literal["breast", "expressed", "donor", "formula"]
MILKS: dict[Milk, Message] = {
    "breast": message("breast milk"),
    "expressed": message("expressed milk"),
    "donor": message("donor milk"),
    "formula": message("formula"),
}
"""What each milk is called in a sentence."""


class KnownIntakeParameters(Parameters, frozen=True, kw_only=True):
    """What a day's known intake needs."""

    topic: ClassVar[str] = "known_intake"

    window_h: Constant
    """Hours that are summed."""
    match_minutes: Constant
    """How near to a test weight a feed at the breast is taken for the same feed."""
    gap_h: Constant
    """Gap between feeds beyond which the log is taken to be incomplete."""


class MilkShare(msgspec.Struct, frozen=True, kw_only=True):
    """Known volume of one milk."""

    milk: Milk
    volume_ml: float
    feeds: int


class KnownIntake(msgspec.Struct, frozen=True, kw_only=True):
    """The known part of a day's intake.

    Attributes:
        volume_ml: Sum of what is known over the hours, with the test weights' error; None when
            nothing is known, which is not nothing taken.
        by_milk: The same by milk, in the order breast, expressed, donor, formula; only those known.
        known_feeds: Feeds with a known volume.
        unmeasured_feeds: Feeds whose volume nobody knows.
        is_whole: True when every feed is known and no gap is too long: only then is the sum the
            day's intake, else it is 'at least'.
        longest_gap_h: Longest time between feeds, and to either end of the hours.
        from_at: Start of the hours.
        to_at: Their end.
        problems: Test weights that were left out, and why.
    """

    volume_ml: Figure | None
    by_milk: tuple[MilkShare, ...]
    known_feeds: int
    unmeasured_feeds: int
    is_whole: bool
    longest_gap_h: float
    from_at: datetime
    to_at: datetime
    problems: tuple[Problem, ...] = ()

    def per_day_ml(self) -> Figure | None:
        """The sum brought to 24 h, where the whole is known; None where it is not."""
        hours = elapsed_h(self.from_at, self.to_at)
        if self.volume_ml is None or not self.is_whole or hours <= 0:
            return None
        share = HOURS_PER_DAY / hours
        known = self.volume_ml
        return msgspec.structs.replace(
            known,
            value=known.value * share,
            unit="mL/d",
            low=None if known.low is None else known.low * share,
            high=None if known.high is None else known.high * share,
        )


class _KnownFeed(msgspec.Struct, frozen=True, kw_only=True):
    """One feed with a known volume."""

    at: datetime
    milk: Milk
    volume_ml: float
    se_ml: float = 0.0


def known_intake(
    entries: Iterable[Entry],
    infant_id: UUID,
    *,
    born_at: datetime,
    as_of: datetime,
    parameters: KnownIntakeParameters,
    weighing: TestWeightParameters,
    technique: Technique = "ward",
    resolution_g: float = 0.0,
) -> KnownIntake:
    """What is known to have been taken in the last hours.

    Args:
        entries: Entries of the family that stand, in any order.
        infant_id: Whose intake.
        born_at: Instant of birth; the hours never begin before it.
        as_of: End of the hours.
        parameters: Length of the hours and rules of matching.
        weighing: Constants of test weights.
        technique: How test weights were taken.
        resolution_g: Step of the scale used for them.
    """
    start = max(
        born_at.astimezone(UTC),
        as_of.astimezone(UTC) - timedelta(hours=parameters.window_h.value),
    )
    own = sorted(
        (one for one in entries if start < one.true_at <= as_of and one.infant_id == infant_id),
        key=lambda one: (one.true_at, str(one.id)),
    )
    known, unmeasured, problems = _sorted_feeds(own, parameters, weighing, technique, resolution_g)
    times = sorted([one.at for one in known] + unmeasured)
    gap = _longest_gap_h([start, *times, as_of])
    is_whole = bool(known) and not unmeasured and not problems and gap <= parameters.gap_h.value
    return KnownIntake(
        volume_ml=_sum(known, unmeasured, gap, parameters, weighing, is_whole=is_whole)
        if known
        else None,
        by_milk=_by_milk(known),
        known_feeds=len(known),
        unmeasured_feeds=len(unmeasured),
        is_whole=is_whole,
        longest_gap_h=gap,
        from_at=start,
        to_at=as_of.astimezone(UTC),
        problems=problems,
    )


def _sorted_feeds(
    own: Sequence[Entry],
    parameters: KnownIntakeParameters,
    weighing: TestWeightParameters,
    technique: Technique,
    resolution_g: float,
) -> tuple[list[_KnownFeed], list[datetime], tuple[Problem, ...]]:
    """Known feeds, instants of unmeasured ones, and the test weights that were left out."""
    known: list[_KnownFeed] = []
    unmeasured: list[datetime] = []
    problems: list[Problem] = []
    weighed_at: list[datetime] = []
    for entry in own:
        fact = entry.fact
        if isinstance(fact, TestWeight):
            weighed_at.append(entry.true_at)
            try:
                taken = _transfer(fact, weighing, technique, resolution_g)
            except SufficeError as refusal:
                problems.extend(refusal.problems)
                unmeasured.append(entry.true_at)
                continue
            problems.extend(taken.problems)
            known.append(
                _KnownFeed(
                    at=entry.true_at,
                    milk="breast",
                    volume_ml=taken.volume_ml.value,
                    se_ml=taken.se_ml,
                )
            )
    near_h = parameters.match_minutes.value / MINUTES_PER_HOUR
    for entry in own:
        fact = entry.fact
        if not isinstance(fact, Feed):
            continue
        if fact.volume_ml is not None:
            known.append(_KnownFeed(at=entry.true_at, milk=fact.milk, volume_ml=fact.volume_ml))
        elif fact.milk != "breast" or not any(
            abs(elapsed_h(entry.true_at, at)) <= near_h for at in weighed_at
        ):
            unmeasured.append(entry.true_at)
    return known, unmeasured, tuple(problems)


def _transfer(
    fact: TestWeight, weighing: TestWeightParameters, technique: Technique, resolution_g: float
) -> Transfer:
    return transfer(
        fact.before_g,
        fact.after_g,
        weighing,
        minutes=fact.minutes,
        same_clothes=fact.same_clothes,
        technique=technique,
        resolution_g=resolution_g,
    )


def _longest_gap_h(times: Sequence[datetime]) -> float:
    """Longest step between neighbouring instants, in h."""
    return max(elapsed_h(earlier, later) for earlier, later in pairwise(times))


def _by_milk(known: Sequence[_KnownFeed]) -> tuple[MilkShare, ...]:
    order: tuple[Milk, ...] = ("breast", "expressed", "donor", "formula")
    return tuple(
        MilkShare(milk=milk, volume_ml=math.fsum(one.volume_ml for one in own), feeds=len(own))
        for milk in order
        if (own := [one for one in known if one.milk == milk])
    )


def _sum(
    known: Sequence[_KnownFeed],
    unmeasured: Sequence[datetime],
    gap_h: float,
    parameters: KnownIntakeParameters,
    weighing: TestWeightParameters,
    *,
    is_whole: bool,
) -> Figure:
    total = math.fsum(one.volume_ml for one in known)
    se = math.sqrt(math.fsum(one.se_ml**2 for one in known))
    level = weighing.level_fraction
    half = float(ndtri((1 + level.value) / 2)) * se
    notes: list[Message] = []
    if unmeasured:
        notes.append(
            message(
                "At least: {count} feeds are not measured, and their milk is not known.",
                count=len(unmeasured),
            )
        )
    if gap_h > parameters.gap_h.value:
        notes.append(
            message(
                "No feed is recorded for {gap}: perhaps not all feeds were entered.",
                gap=Amount(gap_h, "h", decimals=1),
            )
        )
    return Figure(
        value=total,
        unit="mL",
        low=total - half,
        # An upper end would be a claim about feeds that nobody measured.
        high=total + half if is_whole else None,
        level=level.value,
        working=Working(
            formula=message("sum of known volumes; error of test weights only"),
            inputs=tuple(
                Quantity(name=MILKS[one.milk], value=one.volume_ml, unit="mL") for one in known
            ),
            constants=(parameters.window_h, parameters.match_minutes, parameters.gap_h, level),
            notes=tuple(notes),
        ),
    )
