"""What goes into an infant's weight chart: points, limits in force, bands, corridor and forecast.

Numbers only, for the page, the image and the papers alike; the words are added where it is drawn.
Weights are grams and ages days of 24 h.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import Any, Final, Literal, NamedTuple

import msgspec
import numpy as np

from suffice.assess.parameters import parameters_of
from suffice.assess.results import InfantAssessment, WeightRow
from suffice.assess.rules.table import limit_of
from suffice.clinical.growth.bands import bands_for_infant
from suffice.clinical.units import DAYS_PER_MONTH, HOURS_PER_DAY
from suffice.errors import RefusalError
from suffice.inference.estimate import Estimate, Forecast
from suffice.knowledge.store import Content

Points = tuple[tuple[float, float], ...]
"""Age in days and weight in g, in order of age."""
Area = tuple[tuple[float, float, float], ...]
"""Age in days, low and high weight in g, in order of age."""

Z_LINES: Final = (-2.0, 0.0, 2.0)
"""The lines of the growth standard that are drawn; the band lies between the first and the last."""
LIMIT_OF_LOSS: Final = "choice:weight_loss_limit"
CORRIDOR_MONTHS: Final = 3
"""The trade's corridor is taught for the first three months; its constants say so in words."""


class ChartPoint(NamedTuple):
    """A weight, and whether the engine doubts it."""

    row: WeightRow
    is_doubtful: bool


class ReferenceLine(NamedTuple):
    """A line of the growth standard.

    Attributes:
        z: Its score.
        standard: The standard at the end of the chart.
        points: Where it runs; days that no standard covers are left out.
    """

    z: float
    standard: Literal["WHO", "INTERGROWTH-21st"]
    points: Points


class LossLimit(NamedTuple):
    """The weight at the limit of loss.

    Attributes:
        percent: The limit at the end of the chart, in percent of the birth weight.
        weight_g: The weight at it.
        points: Its course, with a step where the limit changes.
    """

    percent: float
    weight_g: float
    points: Points


class Corridor(NamedTuple):
    """The gain that is commonly taught, in g a day, and the area it makes."""

    low_g_per_day: float
    high_g_per_day: float
    points: Area


class ChartContent(msgspec.Struct, frozen=True, kw_only=True):
    """All that one weight chart shows.

    Attributes:
        points: The infant's weights, by age.
        birth_weight_g: None where it is not known.
        limit: None where no limit is asked any more at the end of the chart.
        reference_band: 2 SD about the median; empty where no standard applies.
        reference_lines: Its lower edge, the median and its upper edge.
        corridor: None with fewer than two weights to trust, and past the months it is taught for.
        fan: Bands of the forecast, the widest first; empty without one.
        fan_middle: The forecast's median; empty without one.
        back_day: Day on which birth weight is expected back; None where it is, or cannot be said.
        target_day: Day by which birth weight should be back; None where it is, or was not asked.
    """

    points: tuple[ChartPoint, ...] = ()
    birth_weight_g: float | None = None
    limit: LossLimit | None = None
    reference_band: Area = ()
    reference_lines: tuple[ReferenceLine, ...] = ()
    corridor: Corridor | None = None
    fan: tuple[Area, ...] = ()
    fan_middle: Points = ()
    back_day: float | None = None
    target_day: float | None = None


def chart_content(infant: InfantAssessment, content: Content) -> ChartContent:
    """What goes into the chart of one infant.

    Args:
        infant: What was computed.
        content: The content in force, for the reference bands, the limit and the corridor.
    """
    estimate = infant.estimate if infant.estimate and not infant.estimate.is_refused else None
    suspects: AbstractSet[str] = (
        {one.reading_id for one in estimate.suspects} if estimate else frozenset()
    )
    last_d = _last_day(infant, estimate)
    band, lines = _reference(infant, content, last_d)
    back_day, target_day = _days_of_regain(infant, estimate)
    return ChartContent(
        points=tuple(ChartPoint(row, str(row.entry_id) in suspects) for row in infant.weights),
        birth_weight_g=infant.birth_weight_g,
        limit=_loss_limit(infant, content, last_d),
        reference_band=band,
        reference_lines=lines,
        corridor=_corridor(infant, suspects, content, last_d),
        fan=_fan(estimate.forecast) if estimate else (),
        fan_middle=_fan_middle(estimate.forecast) if estimate else (),
        back_day=back_day,
        target_day=target_day,
    )


def _last_day(infant: InfantAssessment, estimate: Estimate | None) -> float:
    ages = [row.age_h / HOURS_PER_DAY for row in infant.weights]
    if estimate:
        ages += estimate.forecast.age_d
    return max([*ages, 1.0])


def _reference(
    infant: InfantAssessment, content: Content, last_d: float
) -> tuple[Area, tuple[ReferenceLine, ...]]:
    """The band of 2 SD and its lines, of the standard that applies each day."""
    parameters = parameters_of(content)
    try:
        drawn = bands_for_infant(
            parameters.standards,
            parameters.age,
            "weight",
            infant.sex,
            gestation_days=infant.gestation_days,
            start_d=0,
            end_d=int(last_d) + 1,
            z_lines=Z_LINES,
        )
    except RefusalError:
        return (), ()
    values = dict(zip(Z_LINES, drawn.values, strict=True))
    standard: Literal["WHO", "INTERGROWTH-21st"] = (
        "WHO" if bool(drawn.is_who[-1]) else "INTERGROWTH-21st"
    )
    lines = tuple(
        ReferenceLine(z, standard, tuple(_covered(drawn.age_d, values[z]))) for z in Z_LINES
    )
    return tuple(_covered(drawn.age_d, values[Z_LINES[0]], values[Z_LINES[-1]])), lines


def _covered(age_d: np.ndarray, *weights_g: np.ndarray) -> list[Any]:
    """The days with a value, each with its weights."""
    rows = np.column_stack([age_d.astype(float), *weights_g])
    return [tuple(row) for row in rows[np.isfinite(rows).all(axis=1)].tolist()]


def _loss_limit(infant: InfantAssessment, content: Content, last_d: float) -> LossLimit | None:
    """The weight at the limit of loss that the red flag asks at each age: the clinic's choice."""
    birth_g = infant.birth_weight_g
    asked = [
        limit_of(LIMIT_OF_LOSS, content, day * HOURS_PER_DAY) for day in range(int(last_d) + 1)
    ]
    if birth_g is None or asked[-1] is None:
        return None
    points: list[tuple[float, float]] = []
    for day, limit in [(day, limit) for day, limit in enumerate(asked) if limit is not None]:
        weight_g = birth_g * (100 - limit.value) / 100
        if points and points[-1][1] != weight_g:
            points.append((float(day), points[-1][1]))
        points.append((float(day), weight_g))
    last_g = points[-1][1]
    return LossLimit(asked[-1].value, last_g, (*points, (last_d + 1, last_g)))


def _corridor(
    infant: InfantAssessment, suspects: AbstractSet[str], content: Content, last_d: float
) -> Corridor | None:
    """The gain that is commonly taught, drawn from the lowest weight that is not in doubt."""
    rows = [row for row in infant.usable_weights if str(row.entry_id) not in suspects]
    if len(rows) < 2 or last_d > CORRIDOR_MONTHS * DAYS_PER_MONTH:
        return None
    lowest = min(rows, key=lambda row: (row.weight_g, row.age_h))
    low = content.constant("gain.common_low_g_per_day").value
    high = content.constant("gain.common_high_g_per_day").value
    start_d = lowest.age_h / HOURS_PER_DAY
    days = [start_d, *range(int(start_d) + 1, int(last_d) + 2)]
    points = tuple(
        (
            float(day),
            lowest.weight_g + low * (day - start_d),
            lowest.weight_g + high * (day - start_d),
        )
        for day in days
    )
    return Corridor(low, high, points)


def _fan(forecast: Forecast) -> tuple[Area, ...]:
    """One band for each pair of quantiles that mirror each other, the widest first."""
    levels = forecast.levels
    pairs = [(place, len(levels) - 1 - place) for place in range(len(levels) // 2)]
    return tuple(
        tuple(
            (age, row[low], row[high])
            for age, row in zip(forecast.age_d, forecast.reading_g, strict=True)
        )
        for low, high in pairs
    )


def _fan_middle(forecast: Forecast) -> Points:
    middle = len(forecast.levels) // 2
    return tuple(
        (age, row[middle]) for age, row in zip(forecast.age_d, forecast.reading_g, strict=True)
    )


def _days_of_regain(
    infant: InfantAssessment, estimate: Estimate | None
) -> tuple[float | None, float | None]:
    """The day on which birth weight is expected back, and the day by which it should be."""
    if estimate is None or "regain_h" in infant.figures:
        return None, None
    regain = estimate.regain_age_d
    # A median at the end of the forecast means 'later': no day can be drawn for it.
    is_ahead = regain and estimate.age_d < regain.median < estimate.forecast.age_d[-1]
    return regain.median if regain and is_ahead else None, estimate.question.regain_day
