"""An infant's weight chart in the clinic's words, and its drawings for the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec
from django.utils.safestring import SafeString
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
from suffice.clinical.growth.standard import STANDARDS
from suffice.clinical.reading.writing import NO_BREAK_SPACE
from suffice.clinical.units import HOURS_PER_DAY
from suffice.documents.chart.content import Band, Level, Line, Marker, Point, WeightChart
from suffice.documents.chart.drawing import drawing
from suffice.documents.chart.frame import PAPER_SIZE, SIZES
from suffice.knowledge.store import Content
from suffice.language.amounts import AmountText
from suffice.web.shown.fact import value_word
from suffice.web.shown.wording import Wording, called, in_words


class ChartShown(msgspec.Struct, frozen=True, kw_only=True):
    """The weight chart on the page.

    Attributes:
        drawings: The same chart for a phone, a tablet and a laptop; the page shows one of them.
        paper: The chart as it stands small on paper.
        caption: What its marks mean, of those that are drawn.
        taught: The gain that is commonly taught, in words; empty where it is not drawn.
        last: What is said of the last weight.
        count: How many weights there are.
    """

    drawings: tuple[SafeString, ...]
    paper: SafeString
    caption: tuple[str, ...]
    taught: str
    last: str
    count: int


def chart_shown(infant: InfantAssessment, content: Content, wording: Wording) -> ChartShown | None:
    """The chart of one infant; None while no weight is known.

    Args:
        infant: What was computed.
        content: The content in force, for the reference band, the limit and the taught gain.
        wording: How the clinic reads numbers and times.
    """
    if not infant.weights:
        return None
    chart = weight_chart_of(infant, content, wording)
    return ChartShown(
        drawings=tuple(
            SafeString(drawing(chart, size, f"weights-{infant.position}")) for size in SIZES
        ),
        paper=SafeString(drawing(chart, PAPER_SIZE, f"paper-{infant.position}")),
        caption=tuple(_caption(chart)),
        taught=chart.corridor.label if chart.corridor else "",
        last=chart.points[-1].says,
        count=len(chart.points),
    )


def weight_chart_of(infant: InfantAssessment, content: Content, wording: Wording) -> WeightChart:
    """The chart of one infant.

    Args:
        infant: What was computed.
        content: The content in force, for the reference band, the limit and the taught gain.
        wording: How the clinic reads numbers and times.
    """
    shown = chart_content(infant, content)
    middle = Line(label=_("forecast"), points=shown.fan_middle) if shown.fan_middle else None
    return WeightChart(
        name=_("Weight chart of %(name)s") % {"name": called(infant.name)},
        description=describe(infant, wording),
        age_title=_("Age in days"),
        weight_title=_weight_title(wording),
        weight_unit=wording.policy.weight_unit,
        decimal_mark=wording.mark,
        points=tuple(_point(one, wording) for one in shown.points),
        birth_weight=_birth_level(shown.birth_weight_g, wording),
        limit=_limit_line(shown.limit, wording),
        reference_band=Band(points=shown.reference_band) if shown.reference_band else None,
        standard=_standard(shown.reference_lines),
        reference_lines=tuple(_reference_line(one) for one in shown.reference_lines),
        corridor=_corridor_band(shown.corridor, wording),
        fan=tuple(Band(points=one) for one in shown.fan),
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
    return f"{text}. " + _("All of them are in the table below.")


def _point(point: ChartPoint, wording: Wording) -> Point:
    row, change = point.row, ""
    if row.change_percent is not None:
        percent = wording.change(row.change_percent)
        change = _("%(percent)s %% from birth weight") % {"percent": percent}
    texts = [
        wording.short_when(row.at),
        wording.age(row.age_h),
        str(wording.weight(row.weight_g)),
        change,
        value_word(row.clothing),
        _("in doubt") if point.is_doubtful else "",
    ]
    return Point(
        age_d=row.age_h / HOURS_PER_DAY,
        weight_g=row.weight_g,
        says=" · ".join(one for one in texts if one),
        doubtful=point.is_doubtful,
    )


def _standard(lines: Sequence[ReferenceLine]) -> str:
    """The standard at the end of the chart, as the table of the weights calls it; empty without one."""
    if not lines:
        return ""
    name = lines[-1].standard
    return in_words(STANDARDS.get(name, name))


def _caption(chart: WeightChart) -> Iterator[str]:
    """What each mark means that is drawn."""
    if any(point.doubtful for point in chart.points):
        yield _("Dots: weights; an open dot is in doubt.")
    else:
        yield _("Dots: weights.")
    if chart.fan:
        yield _("Fan: what a scale will likely show (50, 80 and 95 %).")
    if chart.standard:
        yield _("Grey: the growth standard (%(name)s), 2 SD about its median.") % {
            "name": chart.standard
        }


def _weight_title(wording: Wording) -> str:
    """The axis' title; pounds and ounces stand at each tick instead."""
    unit = wording.policy.weight_unit
    return _("Weight") if unit == "lb oz" else _("Weight, %(unit)s") % {"unit": unit}


def _reference_line(line: ReferenceLine) -> Line:
    """A line of the growth standard; the caption names the standard."""
    if line.z == 0:
        return Line(label=_("median"), points=line.points)
    label = _("%(sign)s2 SD") % {"sign": "+" if line.z > 0 else "\N{MINUS SIGN}"}
    return Line(label=label, points=line.points)


def _birth_level(birth_g: float | None, wording: Wording) -> Level | None:
    if birth_g is None:
        return None
    label = _("birth weight %(weight)s") % {"weight": _together(wording.weight(birth_g))}
    return Level(label=label, weight_g=birth_g)


def _limit_line(limit: LossLimit | None, wording: Wording) -> Line | None:
    if limit is None:
        return None
    label = _("%(percent)s %% loss: %(weight)s") % {
        "percent": wording.number(limit.percent, 0 if limit.percent.is_integer() else 1),
        "weight": _together(wording.weight(limit.weight_g)),
    }
    return Line(label=label, points=limit.points)


def _together(weight: AmountText) -> str:
    """A weight that is never broken, pounds and ounces neither."""
    return str(weight).replace(" ", NO_BREAK_SPACE)


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
        markers.append(Marker(age_d=shown.target_day, label=label, is_goal=True))
    return tuple(markers)
