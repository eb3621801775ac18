"""The drawings of breast and nipple as a clock face: their fields, where each is, and what it is called.

Seen from the front, as the consultant sees it, twelve at the top. The middle of a drawing is at
(0, 0), y grows downward, and its outer circle has the radius `EDGE`. On the breast one centimetre is
`EDGE / REACH_CM`: a lump is placed to that scale, and the rings help to name what is red.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import cos, pi, sin
from typing import Final, NamedTuple

from suffice.message import Listed, Message, Words, message

HOURS: Final = tuple(range(1, 13))
HOUR_DIGITS: Final = frozenset(map(str, HOURS))
EDGE: Final = 100.0
"""Radius of the outer circle of a drawing, in units of the drawing."""
REACH_CM: Final = 10.0
"""How far from the nipple the breast is drawn, in cm: common practice has no such number, the drawing needs one."""
RINGS: Final[Mapping[str, tuple[float, float]]] = {"i": (20.0, 60.0), "o": (60.0, EDGE)}
"""Inner and outer radius of the two rings of the breast."""
AREOLA: Final = 20.0
TIP, BASE, FACE = 20.0, 62.0, 78.0
"""Radii of the nipple's drawing: its tip, the end of its side, and that of its base."""

MIDDLE: Final = "nipple"
"""The field in the middle of the breast."""
RING_NAMES: Final[Mapping[str, Message]] = {
    "i": message("inner ring"),
    "o": message("outer ring"),
    "h": message("side of the nipple"),
}


class Field(NamedTuple):
    """One field of a drawing: the observation and the choice that it means, its outline, its area.

    `area` is its share of the drawing, 0 to 1.
    """

    what: str
    key: str
    outline: str
    area: float


def point(hour: float, radius: float) -> tuple[float, float]:
    """Where an hour is at a distance from the middle, in units of the drawing."""
    angle = hour / len(HOURS) * 2 * pi
    return round(radius * sin(angle), 2), round(-radius * cos(angle), 2)


def place_of(hour: float, distance_cm: float) -> tuple[float, float]:
    """Where a lump is drawn; what lies farther off than the drawing reaches is drawn on its edge."""
    return point(hour, min(distance_cm / REACH_CM, 1) * EDGE)


def breast_fields(what: str) -> tuple[Field, ...]:
    """The fields of a breast: the middle, twelve near it, twelve at the edge."""
    rings = [
        Field(what, f"{ring}{hour}", _wedge(hour, *radii), _share(*radii) / len(HOURS))
        for ring, radii in RINGS.items()
        for hour in HOURS
    ]
    return (Field(what, MIDDLE, _disc(AREOLA), _share(0, AREOLA)), *rings)


def nipple_fields(by_clock: str, place: str) -> tuple[Field, ...]:
    """The fields of a nipple: its areola, its base, twelve of its side, its tip.

    Args:
        by_clock: The observation that the hours answer.
        place: The observation that tip, base and areola answer.
    """
    side = _share(TIP, BASE) / len(HOURS)
    return (
        Field(place, "areola", _disc(EDGE) + _disc(FACE), _share(FACE, EDGE)),
        Field(place, "base", _disc(FACE) + _disc(BASE), _share(BASE, FACE)),
        *(Field(by_clock, f"h{hour}", _wedge(hour, TIP, BASE), side) for hour in HOURS),
        Field(place, "tip", _disc(TIP), _share(0, TIP)),
    )


def where(keys: Iterable[str], others: Mapping[str, str]) -> Words:
    """Fields in words: '9 to 11 o'clock, outer ring and nipple and areola'.

    Args:
        keys: Keys of fields in any order.
        others: What fields without an hour are called; a key that nobody knows is said as it is.
    """
    by_ring: dict[str, list[int]] = {}
    apart: list[Words] = []
    for key in dict.fromkeys(keys):
        ring, hour = key[:1], key[1:]
        if ring in RING_NAMES and hour in HOUR_DIGITS:
            by_ring.setdefault(ring, []).append(int(hour))
        else:
            apart.append(Message(others[key]) if key in others else key)
    runs = [_run(ring, run) for ring in RING_NAMES for run in _runs(by_ring.get(ring, ()))]
    named = (*runs, *apart)
    return named[0] if len(named) == 1 else message("{places}", places=Listed(named, "and"))


def _run(ring: str, run: tuple[int, int]) -> Message:
    first, last = run
    if first == 0:
        return message("all round, {ring}", ring=RING_NAMES[ring])
    if first == last:
        return message("{hour} o'clock, {ring}", hour=first, ring=RING_NAMES[ring])
    return message(
        "{first} to {last} o'clock, {ring}", first=first, last=last, ring=RING_NAMES[ring]
    )


def _runs(hours: Sequence[int]) -> list[tuple[int, int]]:
    """Hours as runs round the clock, each by its first and last; (0, 0) is all of them."""
    found = set(hours)
    if len(found) == len(HOURS):
        return [(0, 0)]
    starts = [hour for hour in HOURS if hour in found and _before(hour) not in found]
    runs = []
    for start in starts:
        end = start
        while _after(end) in found:
            end = _after(end)
        runs.append((start, end))
    return runs


def _after(hour: int) -> int:
    return hour % len(HOURS) + 1


def _before(hour: int) -> int:
    return (hour - 2) % len(HOURS) + 1


def _share(inner: float, outer: float) -> float:
    return (outer**2 - inner**2) / EDGE**2


def _disc(radius: float) -> str:
    return f"M0 {-radius:g}A{radius:g} {radius:g} 0 1 1 0 {radius:g}A{radius:g} {radius:g} 0 1 1 0 {-radius:g}Z"


def _wedge(hour: int, inner: float, outer: float) -> str:
    near, far = ([point(hour + half, radius) for half in (-0.5, 0.5)] for radius in (inner, outer))
    (a, b), (c, d) = near, far
    return (
        f"M{a[0]:g} {a[1]:g}L{c[0]:g} {c[1]:g}A{outer:g} {outer:g} 0 0 1 {d[0]:g} {d[1]:g}"
        f"L{b[0]:g} {b[1]:g}A{inner:g} {inner:g} 0 0 0 {a[0]:g} {a[1]:g}Z"
    )
