"""An infant's weight chart in the clinic's words."""

from __future__ import annotations

from django.utils.translation import gettext as _

from suffice.assess.results import InfantAssessment
from suffice.assess.weight_chart import (
    ChartContent,
    ChartPoint,
    Corridor,
    LossLimit,
    ReferenceLine,
    chart_content,
)
from suffice.clinical.units import HOURS_PER_DAY
from suffice.documents.chart.weight_chart import Band, Level, Line, Marker, Point, WeightChart
from suffice.knowledge.store import Content
from suffice.web.shown.fact import value_word
from suffice.web.shown.wording import Wording, in_words


def weight_chart_of(infant: InfantAssessment, content: Content, wording: Wording) -> WeightChart:
    """The chart of one infant.

    Args:
        infant: What was computed.
        content: The content in force, for the reference bands, the limit and the corridor.
        wording: How the clinic reads numbers and times.
    """
    shown = chart_content(infant, content)
    middle = Line(label=_("forecast"), points=shown.fan_middle) if shown.fan_middle else None
    return WeightChart(
        description=describe(infant, wording),
        age_title=_("Age in days"),
        weight_title=_weight_title(wording),
        weight_unit=wording.policy.weight_unit,
        decimal_mark=wording.mark,
        points=tuple(_point(one, wording) for one in shown.points),
        birth_weight=_birth_level(shown.birth_weight_g, wording),
        limit=_limit_line(shown.limit, wording),
        reference_bands=tuple(Band(label="", points=one) for one in shown.reference_bands),
        reference_lines=tuple(_reference_line(one) for one in shown.reference_lines),
        corridor=_corridor_band(shown.corridor, wording),
        fan=tuple(Band(label="", points=one) for one in shown.fan),
        fan_middle=middle,
        markers=_markers(shown),
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


def _point(point: ChartPoint, wording: Wording) -> Point:
    row, change = point.row, ""
    if row.change_percent is not None:
        percent = wording.change(row.change_percent)
        change = _("%(percent)s %% from birth weight") % {"percent": percent}
    notes = [value_word(row.clothing), _("in doubt") if point.is_doubtful else ""]
    return Point(
        age_d=row.age_h / HOURS_PER_DAY,
        weight_g=row.weight_g,
        when=wording.when(row.at),
        age=_("%(hours)s h of age") % {"hours": wording.number(int(row.age_h))},
        weight=str(wording.weight(row.weight_g)),
        change=change,
        note=", ".join(note for note in notes if note),
        doubtful=point.is_doubtful,
    )


def _weight_title(wording: Wording) -> str:
    """The axis' title; pounds and ounces stand at each tick instead."""
    unit = wording.policy.weight_unit
    return _("Weight") if unit == "lb oz" else _("Weight, %(unit)s") % {"unit": unit}


def _reference_line(line: ReferenceLine) -> Line:
    if line.z == 0:
        label = _("%(name)s median") % {"name": in_words(line.standard)}
    else:
        label = _("%(sign)s2 SD") % {"sign": "+" if line.z > 0 else "\N{MINUS SIGN}"}
    return Line(label=label, points=line.points)


def _birth_level(birth_g: float | None, wording: Wording) -> Level | None:
    if birth_g is None:
        return None
    label = _("birth weight %(weight)s") % {"weight": wording.weight(birth_g)}
    return Level(label=label, weight_g=birth_g)


def _limit_line(limit: LossLimit | None, wording: Wording) -> Line | None:
    if limit is None:
        return None
    label = _("%(percent)s %% loss: %(weight)s") % {
        "percent": wording.number(limit.percent, 0 if limit.percent.is_integer() else 1),
        "weight": wording.weight(limit.weight_g),
    }
    return Line(label=label, points=limit.points)


def _corridor_band(corridor: Corridor | None, wording: Wording) -> Band | None:
    if corridor is None:
        return None
    label = _("taught gain %(low)s to %(high)s g/day") % {
        "low": wording.number(corridor.low_g_per_day),
        "high": wording.number(corridor.high_g_per_day),
    }
    return Band(label=label, points=corridor.points)


def _markers(shown: ChartContent) -> tuple[Marker, ...]:
    """The day on which birth weight is expected back, and the day by which it should be."""
    markers = []
    if shown.back_day is not None:
        label = _("birth weight back about day %(day)s") % {"day": f"{shown.back_day:.0f}"}
        markers.append(Marker(age_d=shown.back_day, label=label))
    if shown.target_day is not None:
        label = _("target: day %(day)s") % {"day": f"{shown.target_day:g}"}
        markers.append(Marker(age_d=shown.target_day, label=label))
    return tuple(markers)
