"""A drawing read back: where its points, lines and words stand.

Nothing of the drawing's own code is used, so that a slip there cannot hide here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree as ET

LINE_PX = 12.5
"""Height of a line of text from its top to the foot of its descenders."""


class Box:
    """A rectangle, px."""

    def __init__(self, left: float, top: float, right: float, bottom: float) -> None:
        self.left, self.top, self.right, self.bottom = left, top, right, bottom

    def overlaps(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


class Marks:
    """The marks of one drawing."""

    def __init__(self, svg: str) -> None:
        self.root = ET.fromstring(svg)
        _, _, width, height = (float(one) for one in self.root.attrib["viewBox"].split())
        self.frame = Box(0, 0, width, height)
        inner = next(one for one in self.root.iter("svg") if one is not self.root)
        left, top, wide, high = (float(inner.attrib[k]) for k in ("x", "y", "width", "height"))
        self.plot = Box(left, top, left + wide, top + high)

    def points(self) -> list[tuple[float, float]]:
        return [
            (float(one.attrib["cx"]), float(one.attrib["cy"])) for one in self.root.iter("circle")
        ]

    def course(self, kind: str) -> list[tuple[float, float]]:
        """The corners of the line of one kind."""
        (line,) = [one for one in self.root.iter("polyline") if one.get("class") == f"line {kind}"]
        return corners(line)

    def drawn(self) -> Iterator[tuple[float, float]]:
        """Every place that is drawn to outside of the plot's own drawing."""
        for one in self.root:
            if one.tag in {"polyline", "polygon"}:
                yield from corners(one)
            elif one.tag == "line":
                yield float(one.attrib["x1"]), float(one.attrib["y1"])
                yield float(one.attrib["x2"]), float(one.attrib["y2"])

    def labels(self, width_of: float = 0.5) -> list[tuple[str, Box]]:
        """Each line of words with the box it fills; letters are `width_of` their height wide."""
        found = []
        for one in self.root.iter("text"):
            text = one.text or ""
            x, y, wide = float(one.attrib["x"]), float(one.attrib["y"]), len(text) * 12.5 * width_of
            left = {"start": x, "middle": x - wide / 2, "end": x - wide}[one.attrib["text-anchor"]]
            found.append((text, Box(left, y - 9.5, left + wide, y + 3)))
        return found


def corners(one: ET.Element) -> list[tuple[float, float]]:
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", one.attrib["points"])]
    return list(zip(numbers[::2], numbers[1::2], strict=True))
