"""Draws the points of a latch: ``python -m tools.draw_latch`` writes ``latch.svg``, `--check` compares.

Each point is drawn three times: clear, borderline and short of it. All are one profile of an infant on
a breast, seen exactly from the side, in which one measure changes; lengths are millimetres of a term
newborn (from memory of drawings in textbooks, no clinician has checked them), y grows downward, and the
base of the nose is near (0, 0). No words stand in a drawing, and none needs colour: the sign in the
corner, the outline and the measure tell the three apart.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import cos, hypot, radians, sin, tan
from pathlib import Path

SHEET = Path(__file__).resolve().parents[1] / "src/suffice/web/static/suffice/latch.svg"
STATES = ("clear", "borderline", "short")
FRAME = 110.0
"""Side of a drawing in its own units: at 120 px one unit is 0.82 pt."""
BOLD, FINE = 2.0, 1.1
"""Widths of lines; the finer is still 0.9 pt at 120 px."""
DOT_STEP = 5.2
BAR = 3.2

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Latch:
    """What a drawing shows: lengths in mm, angles in degrees.

    Attributes:
        gap: Between the lips.
        angle: At the corner of the mouth.
        nose: From the tip of the nose to the breast; below 0 it is pressed.
        chin: From the chin to the breast.
        above: Areola that shows above the upper lip.
        below: Areola that shows below the lower lip.
        upper: How far the upper lip is turned out, -1 to 1.
        lower: How far the lower lip is turned out, -1 to 1.
        closed: How far from the corner the lips touch.
        tilt: Of the head, back where positive.
    """

    gap: float = 28
    angle: float = 140
    nose: float = 8
    chin: float = -4
    above: float = 16
    below: float = 5
    upper: float = 1
    lower: float = 1
    closed: float = 0
    tilt: float = 12


DEEP = Latch()


@dataclass(frozen=True)
class View:
    """How millimetres become units of a drawing: the middle of the view and its scale."""

    x: float
    y: float
    scale: float

    def at(self, point: Point) -> Point:
        half = FRAME / 2
        return half + (point[0] - self.x) * self.scale, half + (point[1] - self.y) * self.scale


FACE = View(4, 14, 1.05)
MOUTH = View(4, 26, 1.6)
CORNER = View(0, 24, 1.9)
WHOLE = View(-30, 40, 0.4)


def written(points: Sequence[Point], view: View, *, closed: bool = False) -> str:
    """A smooth path through points."""
    spots = [view.at(one) for one in points]
    count = len(spots)
    every = range(count if closed else count - 1)
    path = [f"M{spots[0][0]:.1f} {spots[0][1]:.1f}"]
    for n in every:
        before = spots[n - 1] if n or closed else spots[0]
        here, there = spots[n], spots[(n + 1) % count]
        after = spots[(n + 2) % count] if closed or n + 2 < count else there
        first = (here[0] + (there[0] - before[0]) / 6, here[1] + (there[1] - before[1]) / 6)
        second = (there[0] - (after[0] - here[0]) / 6, there[1] - (after[1] - here[1]) / 6)
        path.append("C" + " ".join(f"{x:.1f} {y:.1f}" for x, y in (first, second, there)))
    return "".join(path) + ("Z" if closed else "")


def line(d: str, kind: str) -> str:
    return f'<path class="{kind}" d="{d}"/>'


UPPER_LIP = 12.0
"""Where the edge of the upper lip is, below the base of the nose."""


def corner(one: Latch) -> Point:
    """The corner of the mouth: as far behind the lips as the angle says."""
    return 5 - one.gap / 2 / tan(radians(one.angle / 2)), UPPER_LIP + one.gap / 2


def profile(one: Latch) -> list[Point]:
    """The head from the crown over face, mouth and chin to the nape."""
    low = UPPER_LIP + one.gap
    press = max(-one.nose, 0)
    u, v = one.upper, one.lower
    x, y = corner(one)
    mouth = (
        [(x, y - 0.6), (x, y + 0.6)]
        if not one.closed
        else [(x + one.closed, y - 0.5), (x, y), (x + one.closed, y + 0.5)]
    )
    return [
        (-62, -84), (-30, -74), (-8, -56), (2, -36), (1.5, -20), (7 - press * 0.4, -11 - press * 0.5),
        (9 - press, -6 - press * 0.4), (6.5, 0.5 - press * 0.3), (1.8, 2.2), (3, 6 - u * 0.6),
        (5.6 + u * 3.6, 7.4), (6.4 + u * 5, UPPER_LIP - 1.4 + (1 - u)), (4 + u * 1.6, UPPER_LIP + 1),
        *mouth,
        (4 + v * 1.6, low - 1), (6.6 + v * 5.6, low + 1.4 - (1 - v)), (6 + v * 4.4, low + 6.4),
        (2.4, low + 8), (1.8, low + 10.6), (3.4, low + 15), (-1, low + 21), (-16, low + 26), (-38, low + 30),
        (-60, low + 22), (-86, low + 8), (-104, -4), (-108, -36), (-92, -68),
    ]  # fmt: skip


def upper_edge(one: Latch) -> list[Point]:
    """The breast from the mouth upward."""
    return [
        (6, UPPER_LIP - 2),
        (9 + one.nose, -6),
        (16 + one.nose, -20),
        (34, -44),
        (60, -64),
        (120, -84),
    ]


def lower_edge(one: Latch) -> list[Point]:
    """The breast from the mouth downward."""
    low = UPPER_LIP + one.gap
    return [
        (6, low + 2), (8 + one.chin * 0.5, low + 7), (3.4 + one.chin, low + 15),
        (10 + one.chin * 0.8, low + 26), (28, low + 42), (60, low + 56), (120, low + 66),
    ]  # fmt: skip


def breast(one: Latch) -> list[Point]:
    """The outline of the breast, its part in the mouth included."""
    middle = UPPER_LIP + one.gap / 2
    reach = one.gap * 0.16
    inside = [(-8, middle - reach), (-14, middle), (-8, middle + reach)]
    return [*reversed(upper_edge(one)), *inside, *lower_edge(one)]


def along(points: Sequence[Point], length: float) -> Point:
    """The point at a distance from the first, on the way through all."""
    for (ax, ay), (bx, by) in pairwise(points):
        step = hypot(bx - ax, by - ay)
        if length <= step:
            return ax + (bx - ax) * length / step, ay + (by - ay) * length / step
        length -= step
    return points[-1]


def inside(point: Point, shape: Sequence[Point]) -> bool:
    """Whether a point is within a closed shape, by the crossings to its right."""
    x, y = point
    crossed = False
    for (ax, ay), (bx, by) in zip(shape, (*shape[1:], shape[0]), strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
            crossed = not crossed
    return crossed


def areola(one: Latch, view: View) -> Iterator[str]:
    """The part of the areola that shows, as a field of dots with a dotted edge."""
    top = along(upper_edge(one), one.above + 2)
    end = along(lower_edge(one), one.below + 4)
    middle = UPPER_LIP + one.gap / 2
    bulge = (26 + one.above * 0.2, middle - 2)
    edge = curve(top, bulge, end)
    shape = [*edge, *reversed([along(lower_edge(one), n) for n in (0, one.below / 2, one.below)]),
             (-10, middle), *[along(upper_edge(one), n) for n in (0, one.above / 2, one.above)]]  # fmt: skip
    yield line(written(edge, view), "latch-fine")
    step = DOT_STEP / view.scale
    dots = []
    for row in range(-12, 26):
        for column in range(-6, 14):
            spot = ((column + row % 2 / 2) * step, row * step)
            if inside(spot, shape):
                x, y = view.at(spot)
                dots.append(f"M{x:.1f} {y:.1f}h0")
    yield line("".join(dots), "latch-dot")


def curve(start: Point, pull: Point, end: Point) -> list[Point]:
    """A curve from start to end, drawn toward a third point."""
    found = []
    for n in range(9):
        t = n / 8
        a, b, c = (1 - t) ** 2, 2 * t * (1 - t), t**2
        found.append(
            (a * start[0] + b * pull[0] + c * end[0], a * start[1] + b * pull[1] + c * end[1])
        )
    return found


def turned(points: Sequence[Point], degrees: float, about: Point) -> list[Point]:
    """Points turned about one of them, the head back where positive."""
    c, s = cos(radians(-degrees)), sin(radians(-degrees))
    ax, ay = about
    return [(ax + (x - ax) * c - (y - ay) * s, ay + (x - ax) * s + (y - ay) * c) for x, y in points]


def scene(one: Latch, view: View) -> Iterator[str]:
    """Breast, then the head over it, with eyelid, nostril and ear."""
    middle = (0, UPPER_LIP + one.gap / 2)
    yield line(written(breast(one), view) + "Z", "latch-parent")
    yield from areola(one, view)
    turn = one.tilt - DEEP.tilt
    x, y = corner(one)
    fold = [(x - 6, y - 7), (x - 8, y), (x - 6, y + 7)]
    yield line(written(turned(profile(one), turn, middle), view, closed=True), "latch-infant")
    for lines in ([(-20, -26), (-14, -23.4), (-7, -25)], [(-66, -16), (-76, -14), (-78, 0), (-71, 9), (-66, 4)],
                  [(2.2, -1.6), (4, -3.6)], fold):  # fmt: skip
        yield line(written(turned(lines, turn, middle), view), "latch-fine")


def measure(start: Point, end: Point, view: View) -> str:
    """A length between two points, with a bar at both ends."""
    (ax, ay), (bx, by) = view.at(start), view.at(end)
    length = hypot(bx - ax, by - ay)
    ux, uy = (bx - ax) / length, (by - ay) / length
    bars = "".join(
        f"M{x - BAR * uy:.1f} {y + BAR * ux:.1f}L{x + BAR * uy:.1f} {y - BAR * ux:.1f}"
        for x, y in ((ax, ay), (bx, by))
    )
    return line(f"M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}{bars}", "latch-measure")


def angle_mark(one: Latch, view: View) -> str:
    """The angle at the corner of the mouth, its sides along the lips and an arc between them."""
    apex = corner(one)
    half = radians(one.angle / 2)
    sides = [(apex[0] + 17 * cos(half) * 1.0, apex[1] + way * 17 * sin(half)) for way in (-1, 1)]
    arc = [
        (apex[0] + 11 * cos(half * n / 4), apex[1] + 11 * sin(half * n / 4)) for n in range(-4, 5)
    ]
    rays = "".join(written([apex, side], view) for side in sides)
    return line(rays + written(arc, view), "latch-measure")


def gape(one: Latch) -> Iterator[str]:
    yield from scene(one, FACE)
    yield angle_mark(one, FACE)


def chin(one: Latch) -> Iterator[str]:
    yield from scene(one, FACE)
    if one.chin > 0:
        low = UPPER_LIP + one.gap + 15
        yield measure((3.8, low), (3.2 + one.chin, low), FACE)


def nose(one: Latch) -> Iterator[str]:
    view = View(2, 4, 1.3)
    yield from scene(one, view)
    if one.nose > 1:
        yield measure((9.4, -6), (8.6 + one.nose, -6), view)


def shown(one: Latch) -> Iterator[str]:
    yield from scene(one, FACE)
    top, end = along(upper_edge(one), one.above + 2), along(lower_edge(one), one.below + 4)
    low = UPPER_LIP + one.gap
    yield measure((34, UPPER_LIP - 1), (34, top[1]), FACE)
    yield measure((34, low + 2), (34, max(end[1], low + 5)), FACE)


def mouth(one: Latch) -> Iterator[str]:
    yield from scene(one, MOUTH)


def corners(one: Latch) -> Iterator[str]:
    yield from scene(one, CORNER)


def head(one: Latch) -> Iterator[str]:
    """The infant down to the hip, with the axis of trunk and head."""
    turn, middle = one.tilt - DEEP.tilt, (0.0, UPPER_LIP + one.gap / 2)
    (nape,) = turned([(-66, 44)], turn, middle)
    (top,) = turned([(-62, -104)], turn, middle)
    x, y = nape
    trunk = [(0, -14), (30, 8), (38, 60), (30, 190), (-46, 190), (-50, 60), (-34, 8)]
    yield line(written([(x + a, y + b) for a, b in trunk], WHOLE, closed=True), "latch-infant")
    yield from scene(one, WHOLE)
    axis = [written([(x - 6, y + 120), nape], WHOLE), written([nape, top], WHOLE)]
    yield line("".join(axis), "latch-axis")


def nipple(squeeze: float) -> Iterator[str]:
    """A nipple as it leaves the mouth: round, sloping at its tip, or pressed to an edge with a stripe."""
    view = View(14, 0, 1.0)
    high, slope = 16 - 5 * squeeze, 10 * squeeze
    above = [
        (72, -80),
        (52, -46),
        (34, -28),
        (16, -high - 3),
        (0, -high),
        (-13 + slope, -high * 0.84),
    ]
    tip = [(-19 + slope * 0.5, -high * 0.1), (-20, high * 0.55)] if squeeze else [(-19, 0)]
    below = [(-13, high * 0.84), (0, high), (16, high + 3), (34, 28), (52, 46), (72, 80)]
    outline = [*above, *tip, *below]
    yield line(written(outline, view) + "Z", "latch-parent")
    near, far = curve((18, -high - 4), (11, 0), (18, high + 4)), curve((48, -42), (30, 0), (48, 42))
    yield line(written(far, view), "latch-fine")
    shape = [*near, *reversed(far)]
    spots = ((DOT_STEP * (c + r % 2 / 2), DOT_STEP * r) for r in range(-9, 10) for c in range(12))
    dots = (view.at(spot) for spot in spots if inside(spot, shape))
    yield line("".join(f"M{x:.1f} {y:.1f}h0" for x, y in dots), "latch-dot")
    if squeeze == 1:
        for end, height in ((-17, 3.5), (-13, -2.0)):
            yield line(
                written([(end, height), (-4, height - 1), (4, height - 1)], view), "latch-line"
            )


def sign(state: str) -> str:
    """A tick, a dash or a cross in the corner."""
    x, y = 13.0, 13.0
    marks = {
        "clear": f"M{x - 4.5} {y}l3.2 3.6L{x + 4.6} {y - 4}",
        "borderline": f"M{x - 4.5} {y}H{x + 4.5}",
        "short": f"M{x - 3.6} {y - 3.6}l7.2 7.2M{x + 3.6} {y - 3.6}l-7.2 7.2",
    }
    return f'<circle class="latch-sign" cx="{x}" cy="{y}" r="9"/>' + line(
        marks[state], "latch-line"
    )


def drawings() -> dict[str, str]:
    """Name of a drawing to what stands in it."""
    d = DEEP
    points = {
        "gape": (gape, d, replace(d, gap=20, angle=115), replace(d, gap=11, angle=80)),
        "corners_touch": (
            corners, d, replace(d, gap=16, angle=86, closed=2), replace(d, gap=12, angle=46, closed=8),
        ),
        "chin": (chin, d, replace(d, chin=6), replace(d, chin=16)),
        "nose_free": (nose, d, replace(d, nose=0), replace(d, nose=-5)),
        "head_back": (head, replace(d, tilt=30), replace(d, tilt=10), replace(d, tilt=-16)),
        "areola_shows": (
            shown, replace(d, above=22, below=4), replace(d, above=12, below=10), replace(d, above=5, below=22),
        ),
        "lips": (mouth, d, replace(d, upper=-0.9), replace(d, lower=-0.9)),
    }  # fmt: skip
    found = {
        f"{name}-{state}": "".join(draw(one))
        for name, (draw, *states) in points.items()
        for state, one in zip(STATES, states, strict=True)
    }
    squeezes = zip(STATES, (0.0, 0.5, 1.0), strict=True)
    found.update({f"nipple_after-{state}": "".join(nipple(one)) for state, one in squeezes})
    return {name: body + sign(name.rsplit("-", 1)[1]) for name, body in found.items()}


STYLE = f"""
    .latch-parent {{ fill: var(--drawn-parent, #fff); stroke: currentColor; stroke-width: {BOLD}; }}
    .latch-infant {{ fill: var(--drawn-infant, #cfcfcf); stroke: currentColor; stroke-width: {BOLD}; }}
    .latch-line {{ fill: none; stroke: currentColor; stroke-width: {BOLD}; }}
    .latch-fine {{ fill: none; stroke: currentColor; stroke-width: {FINE}; }}
    .latch-measure {{ fill: none; stroke: var(--drawn-measure, #0a475f); stroke-width: {BOLD}; }}
    .latch-axis {{ fill: none; stroke: var(--drawn-measure, #0a475f); stroke-width: {BOLD}; stroke-dasharray: 4 3.4; }}
    .latch-dot {{ fill: none; stroke: currentColor; stroke-width: 1.4; }}
    .latch-sign {{ fill: var(--drawn-parent, #fff); stroke: currentColor; stroke-width: {FINE}; }}
    path {{ stroke-linecap: round; stroke-linejoin: round; }}
"""


def sheet() -> str:
    """Every drawing as a symbol of one file."""
    box = f"0 0 {FRAME:g} {FRAME:g}"
    clip = f'<clipPath id="frame"><rect width="{FRAME:g}" height="{FRAME:g}" rx="4"/></clipPath>'
    symbols = "\n".join(
        f'<symbol id="{name}" viewBox="{box}"><g clip-path="url(#frame)">{body}</g></symbol>'
        for name, body in drawings().items()
    )
    start = '<svg xmlns="http://www.w3.org/2000/svg">'
    return f"{start}\n<!-- Made by tools/draw_latch.py. -->\n<style>{STYLE}</style>\n{clip}\n{symbols}\n</svg>\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the drawings; with `--check` 1 where the file is another one."""
    made = sheet()
    if "--check" in (sys.argv[1:] if arguments is None else arguments):
        return int(SHEET.read_text(encoding="utf-8") != made)
    SHEET.write_text(made, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
