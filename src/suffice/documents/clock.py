"""A day on a 24-hour dial, as one drawing for screen and paper, and the same day as rows of a table.

Midnight is at the top, noon at the bottom. The outer ring is the parent's, the inner one a helper's.
Each act has a pattern of its own, so that black and white suffices; its colour is that of the text
around it. Times stand outside the dial, at the beginning of each stretch of acts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Final, NamedTuple

from suffice.clinical.entry.clock import Act, What
from suffice.clinical.reading.hours import DAY_MINUTES, time_of_day_text
from suffice.documents.chart.lettering import width_px
from suffice.documents.chart.svg import element, number, words
from suffice.message import Listed, Message, Words, message

WIDTH_PX: Final = 268
DIAL_PX: Final = 194
"""Height of the dial; the legend stands below it."""
LINE_PX: Final = 16
FONT_PX: Final = 12
OUTER: Final = (62.0, 83.0)
PAPER_SHARE: Final = 0.8
"""The letters of a paper are known, and narrower than the widest that a screen may have."""
SPARE_PX: Final = 4
"""Below the legend of a paper: a page that is rendered for the screen cuts up to half a millimetre off a drawing."""
SWATCH_PX: Final = 26
INNER: Final = (45.0, 58.0)
LABEL_PX: Final = 90.0
HOUR_PX: Final = 34.0
TIME_PX: Final = (38.0, 14.0)
"""Room of a time of day, across and down."""
PAUSE_MINUTES: Final = 15
"""What follows within it belongs together: acts begin on the quarter hour."""
HOURS_NAMED: Final = (0, 6, 12, 18)

NAMES: Final[dict[What, Message]] = {
    "breast": message("at the breast"),
    "milk": message("extra milk"),
    "bottle": message("bottle or cup"),
    "express": message("express"),
    "sleep": message("sleep"),
}
BY_HELPER: Final = message("helper: {what}")
BOTH: Final = message("{acts}; helper: {what}")
RINGS: Final = (message("outer ring: you"), message("inner ring: helper"))


class Stretch(NamedTuple):
    """Acts that follow one another without a break: when they begin and end, and what they are."""

    starts_minutes: int
    ends_minutes: int
    acts: tuple[Act, ...]

    @property
    def says(self) -> Words:
        """What is done, in order: the parent's acts, then what a helper does meanwhile."""
        own = Listed(tuple(NAMES[one.what] for one in self.acts if one.who == "parent"))
        helped = Listed(tuple(NAMES[one.what] for one in self.acts if one.who == "helper"))
        if not helped.parts:
            return message("{acts}", acts=own)
        return (
            BY_HELPER.with_params(what=helped)
            if not own.parts
            else BOTH.with_params(acts=own, what=helped)
        )

    @property
    def hours(self) -> str:
        """From when to when."""
        return f"{time_of_day_text(self.starts_minutes)}–{time_of_day_text(self.ends_minutes % DAY_MINUTES)}"


def stretches(acts: Sequence[Act]) -> tuple[Stretch, ...]:
    """The acts of a day, those of one feed together; sleep is a stretch of its own."""
    found: list[Stretch] = []
    for one in sorted(acts):
        last = found[-1] if found else None
        is_next = (
            last is not None
            and one.what != "sleep"
            and last.acts[0].what != "sleep"
            and one.starts_minutes < last.ends_minutes + PAUSE_MINUTES
            and not (one.what in {"breast", "bottle"} and _is_fed(last))
        )
        if last is not None and is_next:
            ends = max(last.ends_minutes, one.ends_minutes)
            found[-1] = Stretch(last.starts_minutes, ends, (*last.acts, one))
        else:
            found.append(Stretch(one.starts_minutes, one.ends_minutes, (one,)))
    return tuple(_joined(found))


def _is_fed(stretch: Stretch) -> bool:
    return any(one.what in {"breast", "bottle"} for one in stretch.acts)


def _joined(found: list[Stretch]) -> Iterator[Stretch]:
    """A stretch that passes midnight is one: its end is not taken for a beginning."""
    if len(found) > 1:
        first, last = found[0], found[-1]
        is_same = first.starts_minutes < last.ends_minutes - DAY_MINUTES + PAUSE_MINUTES
        is_awake = "sleep" not in {first.acts[0].what, last.acts[0].what}
        if is_same and is_awake and not _is_fed(first):
            ends = max(last.ends_minutes, first.ends_minutes + DAY_MINUTES)
            joined = Stretch(last.starts_minutes, ends, (*last.acts, *first.acts))
            yield from (*found[1:-1], joined)
            return
    yield from found


def clock_drawing(
    acts: Sequence[Act], say: Callable[[Words], str], key: str, *, is_with_legend: bool = True
) -> str:
    """The dial as SVG.

    Args:
        acts: The acts of the day, at least one.
        say: Puts a message into words.
        key: What its ids begin with; another one for each drawing of a page.
        is_with_legend: Whether the patterns are named below it.
    """
    is_helped = any(one.who == "helper" for one in acts)
    legend, below = _legend(acts, say, key, WIDTH_PX) if is_with_legend else ([], 0.0)
    return _svg(
        element("title", words(say(message("The day on the clock"))), id=f"{key}-name"),
        element("desc", words(clock_text(acts, say)), id=f"{key}-says"),
        element("defs", *_patterns(key)),
        *(_ring(*OUTER)),
        *(_ring(*INNER) if is_helped else ()),
        *(_sector(one, key) for one in acts),
        *_hours(),
        *_labels(stretches(acts)),
        element("g", *legend, transform=f"translate(0 {DIAL_PX})"),
        size=(WIDTH_PX, DIAL_PX + below),
        aria_labelledby=f"{key}-name",
        aria_describedby=f"{key}-says",
    )


def clock_legend(acts: Sequence[Act], say: Callable[[Words], str], across_px: float) -> str:
    """The patterns with their names, as a drawing of its own for a paper."""
    legend, height = _legend(acts, say, "legend", across_px, takes=PAPER_SHARE)
    size = (across_px, height + SPARE_PX)
    return _svg(element("defs", *_patterns("legend")), *legend, size=size)


def _svg(*inside: str, size: tuple[float, float], **more: str) -> str:
    return element(
        "svg",
        *inside,
        class_="clock",
        viewBox=f"0 0 {number(size[0])} {number(size[1])}",
        role="img",
        font_family="FiraGO, sans-serif",
        font_size=FONT_PX,
        xmlns="http://www.w3.org/2000/svg",
        **more,
    )


def clock_text(acts: Sequence[Act], say: Callable[[Words], str]) -> str:
    """The day in words: what whoever does not see the drawing is told."""
    return "; ".join(f"{one.hours} {say(one.says)}" for one in stretches(acts))


# ---- parts of the drawing ----------------------------------------------------------------------


def _patterns(key: str) -> Iterator[str]:
    """A pattern for each act that is not full or open."""
    stroke = {"stroke": "currentColor", "fill": "none"}
    yield _pattern(f"{key}-milk", 5, element("path", d="M0 5L5 0", stroke_width=1.1, **stroke))
    yield _pattern(f"{key}-bottle", 4, element("path", d="M0 2H4", stroke_width=1.6, **stroke))
    dot = element("circle", cx=2, cy=2, r=0.95, fill="currentColor")
    yield _pattern(f"{key}-express", 4, dot)


def _pattern(key: str, size: float, *inside: str) -> str:
    return element(
        "pattern", *inside, id=key, width=size, height=size, patternUnits="userSpaceOnUse"
    )


def _fill(what: What, key: str) -> str:
    if what == "breast":
        return "currentColor"
    return "none" if what == "sleep" else f"url(#{key}-{what})"


def _place(radius: float, minutes: float) -> tuple[float, float]:
    """A place on the dial: midnight at the top, clockwise."""
    turn = 2 * math.pi * minutes / DAY_MINUTES
    return WIDTH_PX / 2 + radius * math.sin(turn), DIAL_PX / 2 - radius * math.cos(turn)


def _at(radius: float, minutes: float) -> str:
    x, y = _place(radius, minutes)
    return f"{x:.2f} {y:.2f}"


def _ring(inner: float, outer: float) -> Iterator[str]:
    for radius in (inner, outer):
        yield element(
            "circle", cx=WIDTH_PX / 2, cy=DIAL_PX / 2, r=radius,
            fill="none", stroke="currentColor", stroke_width=0.5,
        )  # fmt: skip


def _sector(act: Act, key: str) -> str:
    """One act as a piece of its ring; sleep is open, with a line along its middle."""
    inner, outer = OUTER if act.who == "parent" else INNER
    first, last = act.starts_minutes, act.ends_minutes
    large = int(act.minutes > DAY_MINUTES / 2)
    path = (
        f"M{_at(outer, first)}A{outer} {outer} 0 {large} 1 {_at(outer, last)}"
        f"L{_at(inner, last)}A{inner} {inner} 0 {large} 0 {_at(inner, first)}Z"
    )
    drawn = element(
        "path", d=path, fill=_fill(act.what, key), stroke="currentColor", stroke_width=1.2
    )
    if act.what != "sleep":
        return drawn
    middle = (inner + outer) / 2
    along = f"M{_at(middle, first)}A{middle} {middle} 0 {large} 1 {_at(middle, last)}"
    return drawn + element(
        "path", d=along, fill="none", stroke="currentColor", stroke_width=2, stroke_dasharray="1 5"
    )


def _hours() -> Iterator[str]:
    """Four hours of the clock inside the rings, and a short stroke at each hour."""
    for hour in range(DAY_MINUTES // 60):
        long = hour in HOURS_NAMED
        yield element(
            "path", d=f"M{_at(OUTER[0], hour * 60)}L{_at(OUTER[0] - (4 if long else 2), hour * 60)}",
            stroke="currentColor", stroke_width=1 if long else 0.6,
        )  # fmt: skip
    for hour in HOURS_NAMED:
        x, y = _place(HOUR_PX, hour * 60)
        yield _words(f"{hour}", x, y, anchor="middle")


def _labels(found: Sequence[Stretch]) -> Iterator[str]:
    """When each stretch begins, outside the dial; feeds first where there is no room for all."""
    taken: list[tuple[float, float]] = []
    for one in sorted(found, key=lambda one: (not _is_fed(one), one.acts[0].what == "sleep")):
        x, y = _place(LABEL_PX, one.starts_minutes)
        off = x - WIDTH_PX / 2
        anchor = "middle" if abs(off) < LABEL_PX / 6 else "start" if off > 0 else "end"
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * TIME_PX[0]
        if all(abs(left - a) >= TIME_PX[0] or abs(y - b) >= TIME_PX[1] for a, b in taken):
            taken.append((left, y))
            yield _words(time_of_day_text(one.starts_minutes), x, y, anchor=anchor)


def _words(text: str, x: float, y: float, *, anchor: str = "start") -> str:
    return element(
        "text", words(text), x=x, y=number(y + FONT_PX * 0.36), text_anchor=anchor,
        fill="currentColor",
    )  # fmt: skip


def _legend(
    acts: Sequence[Act],
    say: Callable[[Words], str],
    key: str,
    across_px: float,
    *,
    takes: float = 1.0,
) -> tuple[list[str], float]:
    """Each pattern with its name, in as many rows as that takes; and how high they are.

    `takes` is the share of the most that a text may take which it does take.
    """
    drawn: list[str] = []
    x, row = 4.0, 0
    for what in (one for one in NAMES if any(act.what == one for act in acts)):
        name = say(NAMES[what])
        across = SWATCH_PX + takes * width_px(name) + 16
        if drawn and x + across - 16 > across_px:
            x, row = 4.0, row + 1
        y = LINE_PX * (row + 0.5)
        drawn.append(
            element(
                "rect", x=x, y=y - 5, width=20, height=10, fill=_fill(what, key),
                stroke="currentColor", stroke_width=1.2,
            )
        )  # fmt: skip
        if what == "sleep":
            drawn.append(
                element(
                    "path", d=f"M{number(x)} {number(y)}h20", stroke="currentColor",
                    stroke_width=2, stroke_dasharray="1 5",
                )
            )  # fmt: skip
        drawn.append(_words(name, x + SWATCH_PX, y))
        x += across
    if any(one.who == "helper" for one in acts):
        for ring in (say(one) for one in RINGS):
            across = takes * width_px(ring) + 16
            if x + across - 16 > across_px:
                x, row = 4.0, row + 1
            drawn.append(_words(ring, x, LINE_PX * (row + 0.5)))
            x += across
    return drawn, LINE_PX * (row + 1)
