"""The gauge: intake against requirement on one scale."""

from __future__ import annotations

from typing import Final

import msgspec
from django.utils.translation import gettext as _

from suffice.inference.estimate import Estimate, Interval
from suffice.web.shown.wording import Wording

GAUGE_PX: Final = (20.0, 336.0)
"""Where the gauge's scale begins and ends in its drawing of 360 px."""
GAUGE_TICKS: Final = 4
FIRST_BAR_PX: Final = 42.0
BAR_STEP_PX: Final = 54.0
BAR_PX: Final = 22.0
HEADROOM: Final = 1.06


class Bar(msgspec.Struct, frozen=True, kw_only=True):
    """One intake: its median and its 50, 80 and 95 % intervals as ends in px, and where it lies."""

    top: float
    label: str
    thin: tuple[float, float]
    wide: tuple[float, float]
    inner: tuple[float, float]
    middle: float

    @property
    def centre(self) -> float:
        """The height of the thin line, px."""
        return self.top + BAR_PX / 2

    @property
    def label_at(self) -> float:
        """The base line of the label, px."""
        return self.top - 7


class Gauge(msgspec.Struct, frozen=True, kw_only=True):
    """Intake against requirement, laid out on one scale in mL a day (positions in px).

    Two bars where milk is given beside the breast: all of it, and what the breast gives.
    """

    bars: tuple[Bar, ...]
    need: float
    need_range: tuple[float, float]
    need_label: str
    ticks: tuple[tuple[float, str], ...]
    sentence: str

    @property
    def foot(self) -> float:
        """The lower end of the last bar, px."""
        return self.bars[-1].top + BAR_PX

    @property
    def frame(self) -> tuple[float, float]:
        """Upper and lower end of the frame of the requirement, px."""
        return 22.0, self.foot + 5

    @property
    def tick_label_at(self) -> float:
        """The base line of the labels of the scale, px."""
        return self.foot + 30

    @property
    def height(self) -> float:
        """The height of the drawing, px."""
        return self.foot + 40


def gauge_of(estimate: Estimate, wording: Wording) -> Gauge:
    """The gauge: each intake with its 50, 80 and 95 % intervals, the requirement as a line."""
    total, need = estimate.total_intake, estimate.requirement
    top = HEADROOM * max(total.high_95, need.high_80)
    start, end = GAUGE_PX

    def at(value_ml: float) -> float:
        return round(start + (end - start) * max(value_ml, 0.0) / top, 1)

    def bar(place: int, intake: Interval, label: str) -> Bar:
        return Bar(
            top=FIRST_BAR_PX + place * BAR_STEP_PX,
            label=label % {"volume": wording.daily(intake.median)},
            thin=(at(intake.low_95), at(intake.high_95)),
            wide=(at(intake.low_80), at(intake.high_80)),
            inner=(at(intake.low_50), at(intake.high_50)),
            middle=at(intake.median),
        )

    with_given = estimate.milk_given_ml_per_day > 0
    bars = [bar(0, total, _("takes about %(volume)s"))]
    if with_given:
        bars = [
            bar(0, total, _("takes about %(volume)s in all")),
            bar(1, estimate.breast_intake, _("about %(volume)s of it at the breast")),
        ]
    step = next((s for s in (50, 100, 200, 250, 500) if top / s <= GAUGE_TICKS), 1000)
    return Gauge(
        bars=tuple(bars),
        need=at(need.median),
        need_range=(at(need.low_80), at(need.high_80)),
        need_label=_("needs %(volume)s") % {"volume": wording.daily(need.median)},
        ticks=tuple(
            (at(value), str(wording.volume(value))) for value in range(0, int(top) + 1, step)
        ),
        sentence=_sentence(estimate, wording, with_given=with_given),
    )


def _sentence(estimate: Estimate, wording: Wording, *, with_given: bool) -> str:
    """What the gauge shows, for whoever does not see it."""
    total, need = estimate.total_intake, estimate.requirement
    text = _(
        "Intake %(intake)s (80 %% interval %(low)s to %(high)s); requirement %(need)s"
        " (80 %% interval %(need_low)s to %(need_high)s)."
    ) % {
        "intake": wording.daily(total.median),
        "low": wording.volume(total.low_80).number,
        "high": wording.volume(total.high_80).number,
        "need": wording.daily(need.median),
        "need_low": wording.volume(need.low_80).number,
        "need_high": wording.volume(need.high_80).number,
    }
    if with_given:
        breast = estimate.breast_intake
        text += " " + _("At the breast %(intake)s (80 %% interval %(low)s to %(high)s).") % {
            "intake": wording.daily(breast.median),
            "low": wording.volume(breast.low_80).number,
            "high": wording.volume(breast.high_80).number,
        }
    return text
