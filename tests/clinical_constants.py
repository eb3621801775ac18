"""Constants for unit tests, so that a change of the content store never moves a unit test."""

from __future__ import annotations

from bisect import bisect_right
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

import msgspec

from suffice.clinical.entry import Basis, Birth, Entry
from suffice.clinical.working import Constant
from suffice.errors import Problem, RefusalError

INFANT = UUID("11111111-1111-4111-8111-111111111111")
BORN_AT = datetime(2026, 3, 1, 6, 0, tzinfo=UTC)


def constant(value: float, unit: str = "1", *, key: str = "test.value", **more: Any) -> Constant:
    """A constant of the test's own."""
    return Constant(key=key, value=value, unit=unit, basis="judgement", source="this test", **more)


class Steps(msgspec.Struct, frozen=True):
    """A series of the test's own: a value holds until the next position."""

    points_at: dict[float, float]
    until: float = float("inf")
    key: str = "test.series"
    unit: str = "1"
    linear: bool = False

    @property
    def positions(self) -> tuple[float, ...]:
        return tuple(sorted(self.points_at))

    @property
    def points(self) -> tuple[Constant, ...]:
        return tuple(constant(self.points_at[at], self.unit) for at in self.positions)

    def covers(self, position: float) -> bool:
        return self.positions[0] <= position < self.until

    def at(self, position: float) -> Constant:
        if not self.covers(position):
            raise RefusalError(Problem(code="TEST-RANGE", what="", why="", fix=""))
        after = bisect_right(self.positions, position)
        left = self.positions[after - 1]
        value = self.points_at[left]
        if self.linear and after < len(self.positions):
            right = self.positions[after]
            value += (position - left) / (right - left) * (self.points_at[right] - value)
        return constant(value, self.unit)


class ColourWords(msgspec.Struct, frozen=True):
    """Words along an axis, of the test's own."""

    words_at: dict[float, tuple[str, ...]]
    key: str = "test.words"
    source: str = "this test"

    def covers(self, position: float) -> bool:
        return position >= min(self.words_at)

    def at(self, position: float) -> tuple[str, ...]:
        return self.words_at[max(start for start in self.words_at if start <= position)]


def hours(age_h: float) -> datetime:
    """The instant at an age."""
    return BORN_AT + timedelta(hours=age_h)


def entry(fact: Any, age_h: float, *, infant_id: UUID | None = INFANT, **more: Any) -> Entry:
    """An entry about the infant at an age; its id follows from its content."""
    at = more.pop("true_at", hours(age_h))
    return Entry(
        id=uuid5(INFANT, repr((fact, at, more))),
        infant_id=infant_id,
        fact=fact,
        basis=Basis.OBSERVED,
        true_at=at,
        entered_at=more.pop("entered_at", at),
        entered_by="tester",
        **more,
    )


def birth_entry(**facts: Any) -> Entry:
    """The birth facts."""
    return entry(Birth(zone="UTC", **facts), 0.0)
