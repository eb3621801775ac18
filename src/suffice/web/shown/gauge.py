"""The gauge in words: what is taken against what is needed."""

from __future__ import annotations

import msgspec
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from suffice.documents.chart.gauge import GaugeSpec, gauge_drawing, small_gauge_drawing
from suffice.inference.estimate import Estimate, Interval
from suffice.web.shown.wording import Wording


class GaugeRow(msgspec.Struct, frozen=True, kw_only=True):
    """A volume with its 50, 80 and 95 % intervals, in words."""

    name: str
    middle: str
    half: str
    most: str
    nearly_all: str


class Gauge(msgspec.Struct, frozen=True, kw_only=True):
    """What is taken against what is needed.

    Attributes:
        sentence: What it shows, in one sentence.
        drawing: The gauge with its numbers.
        small: The bar, the line and two words, 200 x 28 px, for ``family/small_gauge.html``.
        rows: The intervals behind it, which are opened on request, in `unit`.
    """

    sentence: str
    drawing: SafeString
    small: SafeString
    rows: tuple[GaugeRow, ...]
    unit: str


def gauge_of(estimate: Estimate, wording: Wording) -> Gauge:
    """The gauge of an infant: one bar for intake, one line for the need."""
    spec = gauge_spec(estimate, wording)
    volumes = [
        (_("Intake"), estimate.total_intake),
        (_("Of it at the breast"), estimate.breast_intake),
        (_("Need"), estimate.requirement),
    ]
    if estimate.milk_given_ml_per_day <= 0:
        del volumes[1]
    return Gauge(
        sentence=spec.sentence,
        # Every word in them is escaped where the drawing is made.
        drawing=SafeString(gauge_drawing(spec)),
        small=SafeString(small_gauge_drawing(spec)),
        rows=tuple(_row(name, volume, wording) for name, volume in volumes),
        unit=wording.daily(estimate.requirement.median).unit,
    )


def gauge_spec(estimate: Estimate, wording: Wording) -> GaugeSpec:
    """What the gauge shows: its line is the lower end of what such infants need (80 % interval).

    At the middle of the need half of them would seem short who gain as they should.
    """
    total, breast, need = estimate.total_intake, estimate.breast_intake, estimate.requirement
    given = estimate.milk_given_ml_per_day
    taken, at_breast = wording.daily(total.median), wording.daily(breast.median)
    notes = [("taken", _("takes about %(volume)s") % {"volume": taken})]
    if given > 0:
        notes = [
            ("", _("takes about %(volume)s in all") % {"volume": taken}),
            ("taken", _("about %(volume)s of it at the breast") % {"volume": at_breast}),
            ("given", _("about %(volume)s given") % {"volume": wording.daily(given)}),
        ]
    return GaugeSpec(
        sentence=_("Takes about %(intake)s, needs about %(need)s.")
        % {"intake": taken, "need": wording.daily(need.median)},
        share=total.median / need.low_80,
        share_range=(total.low_80 / need.low_80, total.high_80 / need.low_80),
        given=min(given, total.median) / need.low_80,
        need_range=(1.0, need.high_80 / need.low_80),
        short=_("short"),
        enough=_("enough"),
        need=_("needs %(low)s to %(high)s")
        % {"low": wording.daily(need.low_80).number, "high": wording.daily(need.high_80)},
        notes=tuple(notes),
    )


def _row(name: str, volume: Interval, wording: Wording) -> GaugeRow:
    return GaugeRow(
        name=name,
        middle=wording.daily(volume.median).number,
        half=_between(volume.low_50, volume.high_50, wording),
        most=_between(volume.low_80, volume.high_80, wording),
        nearly_all=_between(volume.low_95, volume.high_95, wording),
    )


def _between(low: float, high: float, wording: Wording) -> str:
    ends = {"low": wording.volume(low).number, "high": wording.volume(high).number}
    return _("%(low)s to %(high)s") % ends
