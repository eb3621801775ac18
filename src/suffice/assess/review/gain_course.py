"""The gains of one infant, weighing by weighing: over which weights each is judged, and where it lies.

A gain is judged at the age at which it was weighed. What it raised stands until a later gain is good
enough, so the gains are read from the latest backwards to the one that ended what was before.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, TypeVar

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters, noise_at
from suffice.clinical.growth.gain_line import GainLineParameters, Stretch
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight import gain as gains
from suffice.clinical.weight.gain import GainRules
from suffice.clinical.weight.weighing import Weighing, WeightNoise, is_comparable
from suffice.clinical.working import Constant

AGain = TypeVar("AGain")


class GainSpan(NamedTuple):
    """The two weights over which a gain is judged.

    Attributes:
        first: The earlier one.
        last: The later one.
        gain: The gain between them.
        weights: Of how many weights of a day each is the mean.
    """

    first: Weighing
    last: Weighing
    gain: gains.Gain
    weights: tuple[int, int] = (1, 1)

    @property
    def days(self) -> float:
        """How far apart they are."""
        return (self.last.age_h - self.first.age_h) / HOURS_PER_DAY

    @property
    def half_width_g_per_day(self) -> float:
        """Half the width of the gain's interval."""
        figure = self.gain.g_per_day
        return 0.0 if figure.high is None else figure.high - figure.value


class Judged(NamedTuple):
    """A gain and its place among healthy infants of the age.

    Attributes:
        span: The two weights.
        tells: Whether they tell a slow gain from a brisk one.
        share: Share of infants who gain less than its value; the lower of the sexes' where the sex
            is not known, so that a look is not missed.
        share_low: The same of the lower end of its interval.
        share_high: The same of the upper end of its interval; the higher of the sexes', so that
            nothing is called sure that is so for one sex only.
    """

    span: GainSpan
    tells: bool
    share: float
    share_low: float
    share_high: float

    @property
    def age_h(self) -> float:
        """Age at the later weight."""
        return self.span.last.age_h


def single_weighings(series: Iterable[Weighing], one_weighing: Constant) -> tuple[Weighing, ...]:
    """The weights with those that lie hours apart taken for one: the last of them stands.

    Args:
        series: The weights by age; the birth weight stands for itself.
        one_weighing: How near they must lie, in hours.
    """
    kept: list[Weighing] = []
    began_h = 0.0
    for one in series:
        is_again = kept and not kept[-1].is_birth and one.age_h - began_h < one_weighing.value
        if is_again:
            kept[-1] = one
        else:
            began_h = one.age_h
            kept.append(one)
    return tuple(kept)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class GainCourse:
    """All gains of one infant.

    Attributes:
        case: The infant.
        series: Single weighings by age.
        parameters: Noise, lines and limits.
        before_term_d: Days born before term, where age is corrected; 0 for others.
    """

    case: Case
    series: tuple[Weighing, ...]
    parameters: CareParameters
    before_term_d: float
    _judged: dict[int, Judged | None] = field(default_factory=dict)
    _needed_d: dict[tuple[float, bool, float | None], float] = field(default_factory=dict)

    @property
    def rules(self) -> GainRules:
        """Ages, distances and rates of the rules of gain."""
        return self.parameters.gain_rules

    @property
    def lines(self) -> GainLineParameters:
        """Which shares are asked."""
        return self.parameters.gain_line

    @property
    def ends(self) -> range:
        """Places of the weights at which a gain can end, the latest first."""
        return range(len(self.series) - 1, -1, -1)

    def corrected_d(self, age_h: float) -> float:
        """Age in days, from term for those born before it."""
        return age_h / HOURS_PER_DAY - self.before_term_d

    def gain(self, first: Weighing, last: Weighing) -> gains.Gain:
        """The gain between two weights, with the noise of the age and of the scales."""
        noise, step_g = self._spread(first, last)
        return gains.gain(first, last, noise, self.parameters.gain, resolution_g=step_g)

    def tells(self, first: Weighing, last: Weighing) -> gains.TellApart:
        """Whether two weights tell a slow gain from a brisk one."""
        noise, step_g = self._spread(first, last)
        return gains.tells_apart(first, last, noise, self.parameters.gain, resolution_g=step_g)

    def latest_before(self, place: int, least_h: float) -> Weighing | None:
        """The last weight at least so long before another."""
        until_h = self.series[place].age_h - least_h
        return next((one for one in self.series[:place][::-1] if one.age_h <= until_h), None)

    def lowest(self, place: int) -> Weighing:
        """The lowest weight up to a place; the birth weight only where nothing was lower."""
        return min(self.series[: place + 1], key=lambda one: (one.weight_g, one.age_h))

    def since_lowest(self, place: int) -> GainSpan | None:
        """The gain from the lowest weight to a later one.

        While weights go on falling, once the early loss should be over, from the first of those.
        """
        last, first = self.series[place], self.lowest(place)
        if first is last:
            turned = self._after_the_turn(place)
            if not turned:
                return None
            first = turned[0]
        if last.age_h - first.age_h < self.rules.least_between_h.value:
            return None
        return GainSpan(first, last, self.gain(first, last))

    def judged(self, place: int) -> Judged | None:
        """The gain that is judged at a weight; None where there is none."""
        if place not in self._judged:
            self._judged[place] = self._judge(place)
        return self._judged[place]

    def over(self, place: int, least_d: float, most_d: float, about_d: float) -> GainSpan | None:
        """The gain up to a weight over about so many days; None where no weight lies so far back."""
        last = self.series[place]
        firsts = [
            one
            for one in self.series[:place]
            if least_d <= (last.age_h - one.age_h) / HOURS_PER_DAY <= most_d
        ]
        if not firsts:
            return None
        first = min(firsts, key=lambda one: abs((last.age_h - one.age_h) / HOURS_PER_DAY - about_d))
        return GainSpan(first, last, self.gain(first, last))

    def place_of(self, span: GainSpan, *, tells: bool) -> Judged:
        """A gain with its place among healthy infants of the age."""
        stretch, figure = self.stretch(span), span.gain.g_per_day
        low, high = figure.low, figure.high
        gained = (
            figure.value,
            figure.value if low is None else low,
            figure.value if high is None else high,
        )
        at, at_low, at_high = self.parameters.gain_lines.shares_below(gained, stretch)
        return Judged(span, tells, share=at[0], share_low=at_low[0], share_high=at_high[1])

    def stretch(self, span: GainSpan) -> Stretch:
        """The age over which a gain is compared, corrected."""
        birth = self.case.birth
        return Stretch(
            self.corrected_d(span.first.age_h),
            self.corrected_d(span.last.age_h),
            birth.sex if birth else None,
            is_from_birth=span.first.is_birth and not self.before_term_d,
            is_term=not self.before_term_d,
        )

    def _after_the_turn(self, place: int) -> tuple[Weighing, ...]:
        turn_h = self.parameters.weight_change.first_weight_late_h.value
        later = (one for one in self.series[: place + 1] if not one.is_birth)
        return tuple(one for one in later if one.age_h >= turn_h)

    def _judge(self, place: int) -> Judged | None:
        last, lowest = self.series[place], self.lowest(place)
        if lowest is last:
            since = self._after_the_turn(place)
        else:
            since = tuple(one for one in self.series[: place + 1] if one.age_h >= lowest.age_h)
        found = self.span_of(since)
        if found is None:
            return None
        return self.place_of(found, tells=self._can_tell(found.first, last))

    def span_of(self, since: tuple[Weighing, ...]) -> GainSpan | None:
        """The shortest interval up to the last weight that tells a slow gain from a brisk one.

        Where none does, the longest. The shortest is the most recent; an interval too short to tell
        would only show the noise of weighing. One of months would hide that a gain has stopped: then
        the longest of about a month, if it is of a fortnight at least, though it may not tell. None
        where no two weights are a day apart.

        Args:
            since: The weights from the lowest on, by age.
        """
        if not since:
            return None
        last = since[-1]
        until_h = last.age_h - self.rules.least_between_h.value
        earlier = [one for one in since[:-1] if one.age_h <= until_h]
        if not earlier:
            return None
        for first in reversed(earlier):
            if self._can_tell(first, last):
                break
        else:
            first = earlier[0]
        first = next(self._within_a_month(first, last, earlier), first)
        return GainSpan(first, last, self.gain(first, last))

    def _within_a_month(
        self, first: Weighing, last: Weighing, earlier: Sequence[Weighing]
    ) -> Iterator[Weighing]:
        """The weights from about a month to a fortnight before the last, where the first lies further back."""
        most_h, least_h = (
            one.value * HOURS_PER_DAY
            for one in (self.rules.month_most_days, self.rules.near_least_days)
        )
        if last.age_h - first.age_h > most_h:
            yield from (one for one in earlier if least_h <= last.age_h - one.age_h <= most_h)

    def _can_tell(self, first: Weighing, last: Weighing) -> bool:
        noise, step_g = self._spread(first, last)
        alike = is_comparable(first, last)
        key = (noise.within_infant_sd_g.value, alike, step_g)
        if key not in self._needed_d:
            needed = gains.days_to_tell_apart(
                noise, self.parameters.gain, resolution_g=step_g, controlled=alike
            )
            self._needed_d[key] = needed.value
        return (last.age_h - first.age_h) / HOURS_PER_DAY >= self._needed_d[key]

    def _spread(self, first: Weighing, last: Weighing) -> tuple[WeightNoise, float | None]:
        """The noise of the later weight's age and the coarser step of the clinic's two scales."""
        known = {scale.name: scale.resolution_g for scale in self.case.policy.scales}
        steps = [known.get(one.scale or "") for one in (first, last)]
        step_g = None if None in steps else max(step for step in steps if step is not None)
        return noise_at(self.parameters, last.age_h), step_g


def uncleared(
    course: GainCourse,
    gain_at: Callable[[int], AGain | None],
    clears: Callable[[AGain], bool],
) -> list[AGain]:
    """The gains that no later one ended, the latest first.

    Args:
        course: All gains.
        gain_at: The gain at a place of the series.
        clears: Whether a gain ends what was raised before it.
    """
    found = []
    for place in course.ends:
        one = gain_at(place)
        if one is None:
            continue
        if clears(one):
            break
        found.append(one)
    return found
