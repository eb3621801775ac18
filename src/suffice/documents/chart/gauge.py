"""The gauge drawn as SVG: one bar for what is taken, one line for the least that is needed.

The line of the need stands at the same place in every gauge, so that a bar that does not reach it
looks the same for every infant; to its left stands the word for short, to its right that for
enough. How sure both are is drawn with them and shown when it is asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import msgspec

from suffice.documents.chart.lettering import FONT_PX, LINE_PX, width_px
from suffice.documents.chart.svg import element, number, words

NEED_AT: Final = 0.62
"""Where the need stands, in parts of the width; the bar ends at about 1.6 times that."""
BESIDE_PX: Final = 4.0
SWATCH_PX: Final = 9.0


class GaugeSpec(msgspec.Struct, frozen=True, kw_only=True):
    """What a gauge shows; everything is in parts of the least that is needed, of which 1 is the line.

    Attributes:
        sentence: What it shows, for whoever does not see it.
        share: What is taken.
        share_range: Its 80 % interval.
        given: What of it is given beside the breast; 0 for none.
        need_range: The 80 % interval of the need.
        short: The word on the short side of the line.
        enough: The word on the other side.
        need: What is needed, in words.
        notes: What is taken, in words, each with the mark of its bar: "taken", "given", or none.
    """

    sentence: str
    share: float
    share_range: tuple[float, float]
    given: float
    need_range: tuple[float, float]
    short: str
    enough: str
    need: str
    notes: tuple[tuple[str, str], ...]


class _Size(msgspec.Struct, frozen=True, kw_only=True):
    width_px: float
    font_px: float
    bar_top: float
    bar_px: float

    @property
    def need_x(self) -> float:
        return self.width_px * NEED_AT

    def x(self, share: float) -> float:
        """Where a share of the need stands; what is more than the drawing holds, at its end."""
        return min(max(share, 0.0) * self.need_x, self.width_px)


NORMAL: Final = _Size(width_px=288, font_px=FONT_PX, bar_top=20, bar_px=22)
SMALL: Final = _Size(width_px=200, font_px=12, bar_top=15, bar_px=11)
SMALL_HEIGHT_PX: Final = 28.0


def gauge_drawing(spec: GaugeSpec) -> str:
    """The gauge with its numbers in words."""
    foot = NORMAL.bar_top + NORMAL.bar_px
    rows = list(_notes(spec, foot + 6))
    height = foot + 6 + LINE_PX * (1 + len(spec.notes)) + 4
    return _svg(spec, "gauge", NORMAL.width_px, height, *_bar(spec, NORMAL, foot + 6), *rows)


def small_gauge_drawing(spec: GaugeSpec) -> str:
    """The bar, the line and the two words, for a strip: 200 x 28 px."""
    bar = _bar(spec, SMALL, SMALL_HEIGHT_PX)
    return _svg(spec, "gauge gauge-small", SMALL.width_px, SMALL_HEIGHT_PX, *bar)


def _svg(spec: GaugeSpec, kind: str, width: float, height: float, *inside: str) -> str:
    return element(
        "svg",
        *inside,
        class_=kind,
        viewBox=f"0 0 {number(width)} {number(height)}",
        role="img",
        aria_label=spec.sentence,
    )


def _bar(spec: GaugeSpec, size: _Size, line_foot: float) -> Iterator[str]:
    """The track, what is taken, the two words, the line of the need, and how sure both are."""
    top, height = size.bar_top, size.bar_px
    end, breast = size.x(spec.share), size.x(spec.share - spec.given)
    track = size.width_px - 1
    yield element("rect", class_="track", x=0.5, width=track, y=top, height=height)
    yield element("rect", class_="taken", x=0.5, width=breast, y=top, height=height)
    if spec.given > 0:
        rest = end - breast
        yield element("rect", class_="given", x=breast, width=rest, y=top, height=height)
    yield from _range(spec, size)
    x, base = size.need_x, size.font_px - 1.5
    yield element("text", words(spec.short), x=x - BESIDE_PX, y=base, text_anchor="end")
    yield element("text", words(spec.enough), x=x + BESIDE_PX, y=base, text_anchor="start")
    for kind in ("need rim", "need"):
        yield element("line", class_=kind, x1=x, x2=x, y1=0.0, y2=line_foot)


def _range(spec: GaugeSpec, size: _Size) -> Iterator[str]:
    """The 80 % intervals: of the need as a band, of what is taken as a rule with two ends."""
    low, high = (size.x(one) for one in spec.need_range)
    top, height = size.bar_top, size.bar_px
    yield element(
        "rect", class_="range need-range", x=low, width=high - low, y=top - 2, height=height + 4
    )
    low, high = (size.x(one) for one in spec.share_range)
    middle = top + height / 2
    for kind in ("range rim", "range rule"):
        yield element("path", class_=kind, d=_rule(low, high, middle, height / 4))


def _rule(low: float, high: float, middle: float, half: float) -> str:
    ends = [f"M{number(x)} {number(middle - half)}V{number(middle + half)}" for x in (low, high)]
    return f"M{number(low)} {number(middle)}H{number(high)}{''.join(ends)}"


def _notes(spec: GaugeSpec, top: float) -> Iterator[str]:
    """The need in words below its line, and what is taken below that, each in a row."""
    half = width_px(spec.need) / 2
    x = max(min(NORMAL.need_x, NORMAL.width_px - half), half)
    yield element("text", words(spec.need), x=x, y=top + FONT_PX, text_anchor="middle")
    for row, (kind, note) in enumerate(spec.notes, start=1):
        y = top + LINE_PX * row
        if kind:
            yield element("rect", class_=kind, x=0.5, y=y + 3.5, width=SWATCH_PX, height=SWATCH_PX)
        yield element("text", words(note), x=SWATCH_PX + 5 if kind else 0.0, y=y + FONT_PX)
