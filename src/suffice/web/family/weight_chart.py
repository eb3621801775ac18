"""What goes into an infant's weight chart, in the clinic's words."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import Final

import numpy as np
from django.utils.translation import gettext as _

from suffice.assess.parameters import parameters_of
from suffice.assess.results import InfantAssessment, WeightRow
from suffice.assess.rules.table import limit_of
from suffice.clinical.growth.bands import Bands, bands_for_infant
from suffice.clinical.units import DAYS_PER_MONTH, HOURS_PER_DAY
from suffice.documents.chart.weight_chart import Band, Level, Line, Marker, Point, WeightChart
from suffice.errors import RefusalError
from suffice.inference.estimate import Estimate, Forecast
from suffice.knowledge.store import Content
from suffice.web.shown.wording import Wording, in_words

Z_LINES: Final = (-2.0, -1.0, 0.0, 1.0, 2.0)
LIMIT_OF_LOSS: Final = "choice:weight_loss_limit"
CORRIDOR_MONTHS: Final = 3
"""The trade's corridor is taught for the first three months; its constants say so in words."""


def weight_chart_of(infant: InfantAssessment, content: Content, wording: Wording) -> WeightChart:
    """The chart of one infant.

    Args:
        infant: What was computed.
        content: The content in force, for the reference bands, the limit and the corridor.
        wording: How the clinic reads numbers and times.
    """
    estimate = infant.estimate if infant.estimate and not infant.estimate.is_refused else None
    suspects: AbstractSet[str] = (
        {one.reading_id for one in estimate.suspects} if estimate else frozenset()
    )
    points = tuple(_point(row, wording, str(row.entry_id) in suspects) for row in infant.weights)
    last_d = _last_day(infant, estimate)
    reference_bands, reference_lines = _reference(infant, content, last_d)
    birth_g = infant.birth_weight_g
    return WeightChart(
        description=describe(infant, wording),
        age_title=_("Age in days"),
        weight_title=_weight_title(wording),
        weight_unit=wording.policy.weight_unit,
        decimal_mark=wording.mark,
        points=points,
        birth_weight=_birth_level(birth_g, wording),
        limit=_limit_line(infant, content, wording, last_d),
        reference_bands=reference_bands,
        reference_lines=reference_lines,
        corridor=_corridor(infant, suspects, content, wording, last_d),
        fan=_fan(estimate.forecast) if estimate else (),
        fan_middle=_fan_middle(estimate.forecast) if estimate else None,
        markers=_markers(infant, estimate),
    )


def describe(infant: InfantAssessment, wording: Wording) -> str:
    """What the chart shows, in a sentence."""
    if not infant.weights:
        return _("No weight is known yet.")
    last = infant.weights[-1]
    text = _("%(count)s weights; the last %(weight)s at %(age)s") % {
        "count": len(infant.weights),
        "weight": wording.weight(last.weight_g),
        "age": wording.age(last.age_h),
    }
    if last.change_percent is not None:
        change = wording.change(last.change_percent)
        text += _(", %(change)s %% from birth weight") % {"change": change}
    return f"{text}. " + _("All of them stand in the table below.")


def _point(row: WeightRow, wording: Wording, doubtful: bool) -> Point:
    change = ""
    if row.change_percent is not None:
        percent = wording.change(row.change_percent)
        change = _("%(percent)s %% from birth weight") % {"percent": percent}
    notes = [row.clothing or "", _("in doubt") if doubtful else ""]
    return Point(
        age_d=row.age_h / HOURS_PER_DAY,
        weight_g=row.weight_g,
        when=wording.when(row.at),
        age=_("%(hours)s h of age") % {"hours": wording.number(int(row.age_h))},
        weight=str(wording.weight(row.weight_g)),
        change=change,
        note=", ".join(note for note in notes if note),
        doubtful=doubtful,
    )


def _weight_title(wording: Wording) -> str:
    """The axis' title; pounds and ounces stand at each tick instead."""
    unit = wording.policy.weight_unit
    return _("Weight") if unit == "lb oz" else _("Weight, %(unit)s") % {"unit": unit}


def _last_day(infant: InfantAssessment, estimate: Estimate | None) -> float:
    ages = [row.age_h / HOURS_PER_DAY for row in infant.weights]
    if estimate:
        ages += estimate.forecast.age_d
    return max([*ages, 1.0])


def _reference(
    infant: InfantAssessment, content: Content, last_d: float
) -> tuple[tuple[Band, ...], tuple[Line, ...]]:
    """Bands of 1 and 2 SD and the lines at their edges, of the standard that applies each day."""
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
    lowest, low, _median, high, highest = (drawn.values[k] for k in range(len(Z_LINES)))
    bands = (_band(drawn, lowest, highest), _band(drawn, low, high))
    name = "WHO" if bool(drawn.is_who[-1]) else "INTERGROWTH-21st"
    labels = {
        -2.0: _("%(sign)s2 SD") % {"sign": "\N{MINUS SIGN}"},
        0.0: _("%(name)s median") % {"name": in_words(name)},
        2.0: _("%(sign)s2 SD") % {"sign": "+"},
    }
    lines = tuple(
        Line(label=labels[z], points=_finite(drawn, drawn.values[place]))
        for place, z in enumerate(Z_LINES)
        if z in labels
    )
    return bands, lines


def _finite(drawn: Bands, values: np.ndarray) -> tuple[tuple[float, float], ...]:
    return tuple(
        (float(day), float(value))
        for day, value in zip(drawn.age_d, values, strict=True)
        if np.isfinite(value)
    )


def _band(drawn: Bands, low: np.ndarray, high: np.ndarray) -> Band:
    rows = zip(drawn.age_d, low, high, strict=True)
    return Band(
        label="",
        points=tuple((float(day), float(a), float(b)) for day, a, b in rows if np.isfinite(a + b)),
    )


def _birth_level(birth_g: float | None, wording: Wording) -> Level | None:
    if birth_g is None:
        return None
    label = _("birth weight %(weight)s") % {"weight": wording.weight(birth_g)}
    return Level(label=label, weight_g=birth_g)


def _limit_line(
    infant: InfantAssessment, content: Content, wording: Wording, last_d: float
) -> Line | None:
    """The weight at the limit of loss that the red flag asks at each age: the clinic's choice.

    None where no limit is asked any more at the end of the chart.
    """
    birth_g = infant.birth_weight_g
    asked = [
        limit_of(LIMIT_OF_LOSS, content, day * HOURS_PER_DAY) for day in range(int(last_d) + 1)
    ]
    if birth_g is None or asked[-1] is None:
        return None
    points: list[tuple[float, float]] = []
    for day, limit in enumerate(asked):
        if limit is None:
            continue
        weight_g = birth_g * (100 - limit.value) / 100
        if points and points[-1][1] != weight_g:
            points.append((float(day), points[-1][1]))
        points.append((float(day), weight_g))
    percent = asked[-1].value
    label = _("%(percent)s %% loss: %(weight)s") % {
        "percent": wording.number(percent, 0 if percent.is_integer() else 1),
        "weight": wording.weight(points[-1][1]),
    }
    return Line(label=label, points=(*points, (last_d + 1, points[-1][1])))


def _corridor(
    infant: InfantAssessment,
    suspects: AbstractSet[str],
    content: Content,
    wording: Wording,
    last_d: float,
) -> Band | None:
    """The gain that is commonly taught, drawn from the lowest weight that is not in doubt."""
    rows = [
        row
        for row in infant.weights
        if row.clothing != "clothed" and str(row.entry_id) not in suspects
    ]
    if len(rows) < 2 or last_d > CORRIDOR_MONTHS * DAYS_PER_MONTH:
        return None
    lowest = min(rows, key=lambda row: (row.weight_g, row.age_h))
    low = content.constant("gain.common_low_g_per_day").value
    high = content.constant("gain.common_high_g_per_day").value
    start_d = lowest.age_h / HOURS_PER_DAY
    days = [start_d, *range(int(start_d) + 1, int(last_d) + 2)]
    label = _("taught gain %(low)s to %(high)s g/day") % {
        "low": wording.number(low),
        "high": wording.number(high),
    }
    return Band(
        label=label,
        points=tuple(
            (
                float(day),
                lowest.weight_g + low * (day - start_d),
                lowest.weight_g + high * (day - start_d),
            )
            for day in days
        ),
    )


def _fan(forecast: Forecast) -> tuple[Band, ...]:
    """One band for each pair of quantiles that mirror each other, the widest first."""
    levels = forecast.levels
    pairs = [(place, len(levels) - 1 - place) for place in range(len(levels) // 2)]
    return tuple(
        Band(
            label="",
            points=tuple(
                (age, row[low], row[high])
                for age, row in zip(forecast.age_d, forecast.weight_g, strict=True)
            ),
        )
        for low, high in pairs
    )


def _fan_middle(forecast: Forecast) -> Line:
    middle = len(forecast.levels) // 2
    return Line(
        label=_("forecast"),
        points=tuple(
            (age, row[middle]) for age, row in zip(forecast.age_d, forecast.weight_g, strict=True)
        ),
    )


def _markers(infant: InfantAssessment, estimate: Estimate | None) -> tuple[Marker, ...]:
    """The day on which birth weight is expected back, and the day by which it should be."""
    if estimate is None or "regain_h" in infant.figures:
        return ()
    limit_d = estimate.question.regain_day
    markers = [Marker(age_d=limit_d, label=_("target: day %(day)s") % {"day": f"{limit_d:g}"})]
    regain = estimate.regain_age_d
    # A median at the end of the forecast means 'later': no day can be drawn for it.
    if regain is not None and estimate.age_d < regain.median < estimate.forecast.age_d[-1]:
        label = _("birth weight back about day %(day)s") % {"day": f"{regain.median:.0f}"}
        markers.insert(0, Marker(age_d=regain.median, label=label))
    return tuple(markers)
