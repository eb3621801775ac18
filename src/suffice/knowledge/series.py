"""A value along an axis: hours of age, days of life, months.

A :class:`Series` answers with a :class:`Constant` that carries the series' own provenance, so a
clinical function that asks for a number never sees the table. Outside its range it refuses.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import Literal

import msgspec

from suffice.clinical.working import Constant
from suffice.errors import Problem, RefusalError
from suffice.message import Number, message


def _refusal(key: str, axis: str, asked: float, first: float, until: float) -> RefusalError:
    return RefusalError(
        Problem(
            code="CONTENT-015",
            what=message(
                "{axis} = {asked} is outside the range of {key}.",
                axis=axis,
                asked=Number(asked),
                key=key,
            ),
            why=message(
                "It applies from {first} to below {until}; nothing was published outside.",
                first=Number(first),
                until=Number(until),
            ),
            fix=message("Ask within that range, or use another value."),
            where=key,
        )
    )


class Series(msgspec.Struct, frozen=True, kw_only=True):
    """A number along an axis, with its source.

    Attributes:
        key: Dotted name in the content store.
        axis: Name of the axis, ending in its unit; ``age_d`` 0 to below 1 is the first 24 h.
        between: 'step': a value holds until the next point; 'linear': straight lines, and the
            last value from the last point on.
        until: First position that is no longer covered.
        positions: Where the points stand, ascending.
        points: The values there; their keys are `key`, a dot and the position.
    """

    key: str
    axis: str
    between: Literal["step", "linear"]
    until: float
    positions: tuple[float, ...]
    points: tuple[Constant, ...]

    @property
    def unit(self) -> str:
        """The unit of the values."""
        return self.points[0].unit

    @property
    def values(self) -> tuple[float, ...]:
        """The bare values at `positions`."""
        return tuple(point.value for point in self.points)

    def covers(self, position: float) -> bool:
        """Whether the series says anything there."""
        return self.positions[0] <= position < self.until

    def at(self, position: float) -> Constant:
        """The value at a position of the axis.

        Raises:
            RefusalError: CONTENT-015, outside the range of the series.
        """
        if not self.covers(position):
            raise _refusal(self.key, self.axis, position, self.positions[0], self.until)
        after = bisect_right(self.positions, position)
        before = self.points[after - 1]
        if (
            self.between == "step"
            or after == len(self.points)
            or self.positions[after - 1] == position
        ):
            return before
        return self._mixed(before, self.points[after], position, after)

    def _mixed(self, left: Constant, right: Constant, position: float, after: int) -> Constant:
        start, end = self.positions[after - 1], self.positions[after]
        share = (position - start) / (end - start)

        def mix(a: float | None, b: float | None) -> float | None:
            return None if a is None or b is None else a + share * (b - a)

        overridden = left.overridden_from is not None or right.overridden_from is not None
        was = [p.value if p.overridden_from is None else p.overridden_from for p in (left, right)]
        return msgspec.structs.replace(
            left,
            key=f"{self.key}.{position:g}",
            value=left.value + share * (right.value - left.value),
            low=mix(left.low, right.low),
            high=mix(left.high, right.high),
            overridden_from=mix(was[0], was[1]) if overridden else None,
        )


class Words(msgspec.Struct, frozen=True, kw_only=True):
    """Words along an axis, with their source; `at` answers with all words that fit."""

    key: str
    axis: str
    until: float
    positions: tuple[float, ...]
    words: tuple[tuple[str, ...], ...]
    basis: str
    source: str

    def covers(self, position: float) -> bool:
        """Whether the series says anything there."""
        return self.positions[0] <= position < self.until

    def at(self, position: float) -> tuple[str, ...]:
        """The words that hold at a position.

        Raises:
            RefusalError: CONTENT-015, outside the range of the series.
        """
        if not self.covers(position):
            raise _refusal(self.key, self.axis, position, self.positions[0], self.until)
        return self.words[bisect_right(self.positions, position) - 1]
