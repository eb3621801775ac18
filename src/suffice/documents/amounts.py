"""Milk in true size: one feed of each of the first days in one drawing, and what a stomach holds in another.

A ball of milk is drawn as a ring of its width, all rings of one drawing standing on the same ground, each
with its words to its right. What is only taught has a dotted line. The volumes are those of the content in
force, each with its source under the drawings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal, NamedTuple

from suffice.assess.parameters import CareParameters, parameters_of
from suffice.clinical.milk.feed_size import stomach_amounts
from suffice.documents.chart.svg import element, number, points
from suffice.documents.frame import Source, measured
from suffice.documents.page import Ring, Rings, RingsPicture
from suffice.documents.speaker import Speaker, plain
from suffice.message import Amount, Message, Number, message

BAR_CM: Final = 5.0
"""Length of the bar by which the size of the print is checked."""
LINE_MM: Final = 0.5
"""Width of a ring's line; a copy of a copy keeps it."""
LEAD_MM: Final = 0.35
"""Width of a line that leads to words."""
LEADS_MM: Final = 6.0
"""How far the words stand from the widest ring."""
APART_MM: Final = 1.0
"""Least room between the words of two rings."""
LETTERS: Final = 20
"""How many letters of a ring's words fit a line."""
LINE_HIGH_MM: Final = 4.5
"""How much a line of them takes."""
DASHES: Final = {"full": "none", "dashed": "2 1.4", "dotted": "0.1 1.2"}
"""How each line is broken, in mm of dash and gap."""
INK: Final = "#111111"


PARTS: Final = (
    (message("One feed of extra milk, if your baby needs it"), None),
    (
        message("What a newborn's stomach holds"),
        message(
            "You may have seen other sizes in pictures. Nobody measured those. A stomach gives as it fills:"
            " go by your baby's signs."
        ),
    ),
)
"""The title of each drawing, and what stands under it."""
Line = Literal["full", "dashed", "dotted"]
"""A volume that was measured or published, the least of it, and one that is only taught."""


class FeedOfDay(NamedTuple):
    """What a feed of a day of life holds, mL."""

    day: int
    low_ml: float
    high_ml: float


class _Ball(NamedTuple):
    """A volume that is drawn; `said` is None where another ring speaks for it."""

    ml: float
    line: Line
    said: Message | None


def across_mm(volume_ml: float) -> float:
    """Diameter of a ball of this volume."""
    return 10 * math.cbrt(6 * volume_ml / math.pi)


def drawn_amounts(source: Source, feeds: Sequence[FeedOfDay], age_h: float) -> Rings:
    """A feed of each of these days beside what a stomach holds.

    Args:
        source: What the paper is made from.
        feeds: The days, today first; at least one.
        age_h: Age in hours, by which the taught amounts go.
    """
    speaker, parameters = source.speaker, parameters_of(source.content)
    drawn = (_feeds(source, feeds), _stomach(source, parameters, feeds[0].day, age_h))
    size = message(
        "This bar is {length} long if printed at full size.", length=Amount(BAR_CM, "cm", 0)
    )
    return Rings(
        pictures=tuple(
            _picture(speaker, title, said, balls)
            for (title, said), balls in zip(PARTS, drawn, strict=True)
        ),
        bar=speaker.say(size),
        bar_mm=10 * BAR_CM,
        sources=speaker.say(_sources(parameters)),
    )


def _feeds(source: Source, feeds: Sequence[FeedOfDay]) -> list[_Ball]:
    """The most of each day, and the least of today, which is dashed."""
    today = feeds[0]
    balls = [_Ball(today.low_ml, "dashed", None)]
    for one in feeds:
        holds = _range(source, one.low_ml, one.high_ml)
        said = message("Day {day}: {holds}", day=Number(one.day, 0), holds=holds)
        if one is today:
            said = message("*Today: {holds}* (least dashed)", holds=holds)
        balls.append(_Ball(one.high_ml, "full", said))
    return balls


def _stomach(source: Source, parameters: CareParameters, day: int, age_h: float) -> list[_Ball]:
    """What was measured, and what is taught of the day, which is dotted."""
    held = stomach_amounts(day, age_h, parameters.stomach, parameters.feed_size)
    capacity = measured(source.policy, held.measured.value)
    balls = [
        _Ball(held.measured.value, "full", message("*Measured at birth: about {ml}*", ml=capacity))
    ]
    taught = held.taught
    if taught is not None and taught.low is not None and taught.high is not None:
        holds = _range(source, taught.low, taught.high)
        said = message("Often taught (dotted): {holds}", holds=holds)
        balls.append(_Ball(taught.high, "dotted", said))
    return balls


def _range(source: Source, low_ml: float, high_ml: float) -> Message:
    """From the least to the most, short enough to stand beside a ring."""
    low, high = Number(low_ml, 0), Number(high_ml, 0)
    if source.policy.volume_unit == "mL":
        return message("{low} to {high} mL", low=low, high=high)
    most = message("{amount}", amount=Amount(high_ml, "mL"))
    return message("{low} to {high} mL (to {ounces})", low=low, high=high, ounces=most)


def _sources(parameters: CareParameters) -> Message:
    feeds, capacity = parameters.feed_size.high_ml.at(0), parameters.stomach.measured_capacity_ml
    return message(
        "Feeds: {feeds}. Stomach as measured: {measured}. As taught: common practice, no source.",
        feeds=feeds.source,
        measured=capacity.source,
    )


def _picture(
    speaker: Speaker, title: Message, said: Message | None, balls: Sequence[_Ball]
) -> RingsPicture:
    """Rings on one ground, the words of each at its top or as near as the words above leave room."""
    wide = max(across_mm(one.ml) for one in balls)
    rings: list[Ring] = []
    shapes: list[str] = []
    free = 0.0
    for one in sorted(balls, key=lambda ball: -ball.ml):
        across = across_mm(one.ml)
        shapes.append(_ring(one, across, wide))
        if one.said is None:
            continue
        words = speaker.emphasised(one.said)
        at = max(wide - across, free)
        lines = math.ceil(sum(len(run.text) for run in words) / LETTERS)
        free = at + lines * LINE_HIGH_MM + APART_MM
        shapes.append(_lead(wide, wide - across + LINE_MM / 2, at))
        rings.append(Ring(at_mm=at, said=words))
    return RingsPicture(
        title=speaker.say(title),
        said=() if said is None else speaker.say(said),
        svg=_svg(shapes, wide + LEADS_MM, wide),
        alt=_alt(speaker, title, balls),
        width_mm=wide + LEADS_MM,
        height_mm=wide,
        rings=tuple(rings),
    )


def _alt(speaker: Speaker, title: Message, balls: Sequence[_Ball]) -> str:
    """The drawing in words: what each ring stands for, the smallest first."""
    told = [one.said for one in sorted(balls, key=lambda ball: ball.ml) if one.said is not None]
    texts = ("".join(run.text for run in speaker.emphasised(one)) for one in told)
    return plain(f"{speaker.text(title)}: {'; '.join(texts)}")


def _ring(ball: _Ball, across: float, wide: float) -> str:
    middle, radius = wide / 2, across / 2 - LINE_MM / 2
    return element(
        "circle", cx=middle, cy=wide - across / 2, r=radius, fill="none", stroke=INK,
        stroke_width=LINE_MM, stroke_dasharray=DASHES[ball.line], stroke_linecap="round",
    )  # fmt: skip


def _lead(wide: float, top: float, at: float) -> str:
    """A line from the top of a ring to its words."""
    middle, beside = wide / 2, wide + LEADS_MM / 2
    places = points(((middle, top), (beside, top), (wide + LEADS_MM - 1, at + LINE_MM / 2)))
    return element("polyline", points=places, fill="none", stroke=INK, stroke_width=LEAD_MM)


def _svg(shapes: Sequence[str], width: float, height: float) -> str:
    box = f"0 0 {number(width)} {number(height)}"
    return element("svg", *shapes, xmlns="http://www.w3.org/2000/svg", viewBox=box)
