"""Gain in g/day against the WHO velocity tables, smoothly over age: which share of infants gain less.

The tables give centiles of the gain over whole months. Divided by the days of the month, each stands
for the middle of it, and between two middles a straight line is drawn, so that no infant passes a
cliff on its way from one month to the next. A gain over any stretch of age is compared with the
lines in the middle of that stretch.

The first month of the velocity table holds the loss after birth, so it serves only a gain that is
counted from the birth weight, because nothing lower was seen: up to day 14 any such gain is usual (the
infant is back), from then to day 28 the lines rise to those of the first month, and a longer gain is
compared with that month and what follows it, each for its days. Otherwise, before the second month the empirical centiles of the gain from day 14 to 28 (all birth weights) hold instead. They
rise from the line of the first two weeks, by the age at the later weight, until day 21; they
begin at the 5th: what lies below it counts as below each centile down to a judged first one.

Source: WHO Child Growth Standards, growth velocity based on weight (2009): 1-month increments by
sex, and increments by birth weight from birth to 60 days.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from suffice.clinical.entry import Sex
from suffice.clinical.growth import increments, velocity
from suffice.clinical.growth.standard import (
    Floats,
    IncrementStandard,
    TableSource,
    VelocityStandard,
)
from suffice.clinical.parameters import Parameters
from suffice.clinical.working import Constant

PLACES: Final = 9
"""Decimals of a share: a gain on a line must not read as one below it by binary dust."""


class GainLineParameters(Parameters, frozen=True, kw_only=True):
    """Which centiles are asked, and where the tables begin."""

    topic: ClassVar[str] = "gain"

    physician_fraction: Constant
    """Share of infants who gain less: surely below it, a physician."""
    consultant_fraction: Constant
    """Surely below it, the consultant."""
    look_fraction: Constant
    """Below it, somebody looks at the feeding."""
    note_fraction: Constant
    """Below it once, a note; twice running, the consultant."""
    well_fraction: Constant
    """From it on the gain is a good one."""
    expected_fraction: Constant
    """The gain that an infant is expected to keep."""
    early_first_g_per_day: Constant
    """The judged line of the smallest share from day 14 to 28, for which nothing is published."""
    first_days_g_per_day: Constant
    """The line of a look in the first two weeks, from which the lines rise to those of day 14 to 28."""
    lines_from_age_d: Constant
    """Age from which a gain is held to the lines: the first day of the early increments."""
    month_from_age_d: Constant
    """Age from which the monthly table serves: the last day of the early increments."""


class Stretch(NamedTuple):
    """Over which age a gain was seen, in days; corrected where born preterm.

    Attributes:
        first_d: Age at the earlier weight.
        last_d: Age at the later one.
        sex: The infant's; None where it is not known.
        is_from_birth: Whether the earlier weight is the birth weight of an infant born at term.
        is_term: Whether the infant was born at term.
    """

    first_d: float
    last_d: float
    sex: Sex | None
    is_from_birth: bool = False
    is_term: bool = True


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class GainLines:
    """Lines of gain by age, for girls and boys.

    Attributes:
        source: Of the monthly table.
        z: Shape (k,): the score of each line, ascending.
        middle_d: Shape (n,): ages at which the lines have their corners.
        g_per_day: Shape (2, k, n): the gain there, girls first.
        first_month_g_per_day: Shape (2, k): the gain of the first month, counted from birth.
        first_factor: Shape (2, k): what the early lines are multiplied by at `from_age_d`.
        from_age_d: Age up to which a gain counted from birth is held to no line.
        month_age_d: Age at which the first month ends.
    """

    source: TableSource
    z: Floats
    middle_d: Floats
    g_per_day: Floats
    first_month_g_per_day: Floats
    first_factor: Floats
    from_age_d: float
    month_age_d: float

    def shares_below(
        self, g_per_day: Iterable[float], stretch: Stretch
    ) -> list[tuple[float, float]]:
        """Of several gains over one stretch: the share of healthy infants who gain less.

        For each gain the lower and the higher share of the sexes'; the two are one where the sex is
        known.
        """
        # Where two lines lie on one another a gain below them is below the lower one too.
        rows = [None if row is None else np.maximum.accumulate(row) for row in self._rows(stretch)]
        each = [
            [
                1.0 if row is None else round(float(ndtr(_score(gain, row, self.z))), PLACES)
                for row in rows
            ]
            for gain in g_per_day
        ]
        return [(min(shares), max(shares)) for shares in each]

    def line(self, fraction: float, stretch: Stretch) -> float:
        """Gain (g/day) below which a share of healthy infants lies; the higher of the sexes' where not known."""
        return self.over([fraction], stretch)[0]

    def over(self, fractions: list[float], stretch: Stretch) -> list[float]:
        """The same for several shares."""
        z = ndtri(np.array(fractions))
        rows = self._rows(stretch)
        each = [np.zeros_like(z) if row is None else np.interp(z, self.z, row) for row in rows]
        return [float(one) for one in np.max(each, axis=0)]

    def lines(
        self,
        fraction: float,
        age_d: ArrayLike,
        is_male: ArrayLike,
        is_term: ArrayLike = True,
    ) -> Floats:
        """The same for a cohort: by ages, corrected where born preterm; `is_term` as in `Stretch`.

        `is_male` is 1 for boys, 0 for girls, nan where not known.
        """
        z, ages = float(ndtri(fraction)), np.asarray(age_d, dtype=np.float64)
        whole_d = float(self.middle_d[0])
        share = np.clip((ages - self.from_age_d) / (whole_d - self.from_age_d), 0, 1)
        share = np.where(is_term, share, 1.0)
        girls, boys = (
            np.interp(ages, self.middle_d, [np.interp(z, self.z, column) for column in sex.T])
            * (first + share * (1 - first))
            for sex, first in zip(
                self.g_per_day,
                (np.interp(z, self.z, factor) for factor in self.first_factor),
                strict=True,
            )
        )
        male = np.asarray(is_male, dtype=np.float64)
        known = np.where(male == 1, boys, girls)
        return np.asarray(np.where(np.isnan(male), np.maximum(girls, boys), known))

    def _rows(self, stretch: Stretch) -> list[Floats | None]:
        """The gains of all lines over a stretch, for the sex, or for each; None where none holds."""
        sexes = (False, True) if stretch.sex is None else (stretch.sex == "male",)
        if not stretch.is_from_birth:
            last_d = stretch.last_d if stretch.is_term else np.inf
            middle_d = (stretch.first_d + stretch.last_d) / 2
            return [self._at(one, middle_d) * self._factor(one, last_d) for one in sexes]
        from_d, month_d, last_d = self.from_age_d, self.month_age_d, stretch.last_d
        if last_d <= from_d:
            return [None for _ in sexes]
        if last_d <= month_d:
            share = (last_d - from_d) / (month_d - from_d)
            return [
                self.first_month_g_per_day[int(one)] * month_d * share / last_d for one in sexes
            ]
        return [
            (
                self.first_month_g_per_day[int(one)] * month_d
                + self._at(one, (month_d + last_d) / 2) * (last_d - month_d)
            )
            / last_d
            for one in sexes
        ]

    def _factor(self, is_male: bool, last_d: float) -> Floats:
        """What the lines of a term infant are multiplied by while they rise to the early ones."""
        whole_d = float(self.middle_d[0])
        share = min(max((last_d - self.from_age_d) / (whole_d - self.from_age_d), 0.0), 1.0)
        first = self.first_factor[int(is_male)]
        return np.asarray(first + share * (1 - first))

    def _at(self, is_male: bool, age_d: float) -> Floats:
        """The gains of all lines at an age."""
        at = min(max(age_d, float(self.middle_d[0])), float(self.middle_d[-1]))
        after = min(max(bisect_right(self.middle_d, at), 1), len(self.middle_d) - 1)
        start, end = self.middle_d[after - 1], self.middle_d[after]
        share = float((at - start) / (end - start))
        table = self.g_per_day[int(is_male)]
        before = table[:, after - 1]
        return np.asarray(before + share * (table[:, after] - before))


def _score(g_per_day: float, row: Floats, z: Floats) -> float:
    """The score of a gain between lines that never fall; beyond the outer ones as between the next two."""
    above = int(row.searchsorted(g_per_day, side="right"))
    if 0 < above < len(row):
        low, high = above - 1, above
    elif above == 0:
        low, high = 0, int(row.searchsorted(row[0], side="right"))
    else:
        low, high = int(row.searchsorted(row[-1], side="left")) - 1, len(row) - 1
    if low < 0 or high == len(row):  # a clinic's own values have put all of them on one another
        return -math.inf if g_per_day < row[0] else math.inf
    step = float(row[high] - row[low])
    return float(z[low] + (z[high] - z[low]) * (g_per_day - row[low]) / step)


def gain_lines(
    monthly: VelocityStandard, early: IncrementStandard, parameters: GainLineParameters
) -> GainLines:
    """The lines of both tables, at the shares that are asked and at those that are published."""
    asked = (
        parameters.physician_fraction,
        parameters.consultant_fraction,
        parameters.look_fraction,
        parameters.note_fraction,
        parameters.well_fraction,
    )
    published = [centile / 100 for centile in early.centiles]
    shares = sorted({*(one.value for one in asked), *published})
    from_d, until_d = parameters.lines_from_age_d.value, parameters.month_from_age_d.value
    next_d = next(row.end_day for row in early.rows if row.start_day == until_d)
    is_used = (monthly.months == 1) & (monthly.start_day >= until_d)
    places = np.flatnonzero(is_used)
    middles = (monthly.start_day + monthly.end_day)[places] / 2
    z = ndtri(np.array(shares))
    days = (monthly.end_day - monthly.start_day)[places]
    tables, births = [], []
    first_place = np.flatnonzero((monthly.months == 1) & (monthly.start_day == 0))
    for is_male in (False, True):
        first = _early_line(early, is_male, int(from_d), int(until_d), shares, parameters)
        months = velocity.gain_at_z(monthly, is_male, places[None, :], z[:, None]) / days
        # What holds in the second month holds from the middle of its first two weeks on.
        tables.append(np.column_stack([first, months[:, 0], months]))
        gains = velocity.gain_at_z(monthly, is_male, first_place, z)
        births.append(gains / monthly.end_day[first_place])
    look = int(np.searchsorted(z, ndtri(parameters.look_fraction.value)))
    is_first = np.array(shares) <= parameters.physician_fraction.value
    factors = [
        np.where(is_first, 1, parameters.first_days_g_per_day.value / table[look, 0])
        for table in tables
    ]
    corners = [(from_d + until_d) / 2, (until_d + next_d) / 2, *middles]
    return GainLines(
        source=monthly.source,
        z=np.asarray(z),
        middle_d=np.array(corners),
        g_per_day=np.stack(tables),
        first_month_g_per_day=np.stack(births),
        first_factor=np.minimum(np.stack(factors), 1),
        from_age_d=from_d,
        month_age_d=until_d,
    )


def _early_line(  # the interval and what is asked of it
    standard: IncrementStandard,
    is_male: bool,
    from_d: int,
    until_d: int,
    shares: list[float],
    parameters: GainLineParameters,
) -> Floats:
    """The gain at each share before the monthly table: published, or as judged below the lowest."""
    row = increments.find_row(standard, is_male, from_d, until_d, None)
    if row is None:
        raise ValueError(f"no increments of all infants from day {from_d} to {until_d}")
    known = sorted(row.gain_g)
    z = ndtri(np.array(known) / 100)
    days = until_d - from_d
    gains = np.array([row.gain_g[centile] / days for centile in known])
    line = np.interp(ndtri(np.array(shares)), z, gains)
    is_first = np.array(shares) <= parameters.physician_fraction.value
    first = np.minimum(parameters.early_first_g_per_day.value, line)
    return np.asarray(np.where(is_first, first, line))
