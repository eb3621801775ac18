"""A day of wets or stools that was counted, and what a physician knew of such days."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from suffice.clinical.output_count import Count, Observation
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant


class Known(NamedTuple):
    """What a physician who answered knew of one kind: the instant of the answer, and what was seen."""

    at: datetime
    seen: tuple[Observation, ...]


class Day(NamedTuple):
    """A day that was counted, and how many the norm of its day, or of its age, asks for.

    Attributes:
        seen: The count.
        age_h: Age at its end.
        expected: The norm of the day in which it ends.
        rising: The same, rising in a line over the first hours of a day from the norm of the day before,
            since the greater part of the count is of that day.
        entry_ids: The entries it rests on.
    """

    seen: Count
    age_h: float
    expected: Constant
    rising: float
    entry_ids: tuple[UUID | None, ...] = ()


def share_of_norm(day: Day) -> float:
    """The wets or stools that are possible, of the norm of the day."""
    return (day.seen.high or 0) / day.expected.value


def share_of_rising(day: Day) -> float:
    """The wets or stools that are possible, of the norm on its way."""
    return (day.seen.high or 0) / day.rising


def rising_norm(norm: Callable[[float], float], age_h: float, rises_h: float) -> float:
    """The norm for a count of 24 hours that ends at an age.

    It rises in a line over the first hours of a day from the norm of the day before, since the greater
    part of such a count is of that day.

    Args:
        norm: The norm of the day in which an age is.
        age_h: Age at the end of the count.
        rises_h: Over how many hours of a day it rises.
    """
    expected = norm(age_h)
    into_h = age_h - (math.ceil(age_h / HOURS_PER_DAY) - 1) * HOURS_PER_DAY
    if into_h >= rises_h or age_h <= HOURS_PER_DAY:
        return expected
    before = norm(age_h - into_h)
    # Not to ask for one more because of the dust of a division.
    return round(before + (expected - before) * into_h / rises_h, 9)
