"""Breasts that are simulated with known production: filled slower the fuller they are, expressed from and fed from.

Written for the tests alone: it steps through time in minutes and shares no line with what it judges.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

import numpy as np

Schedule = tuple[tuple[float, Literal["session", "feed"]], ...]
STEP_H = 0.05
DAY: Schedule = (
    (0, "session"), (3, "feed"), (6, "session"), (8.5, "feed"), (11, "feed"), (13, "session"),
    (16, "feed"), (18.5, "feed"), (21, "feed"), (24, "session"),
)  # fmt: skip
"""Four sessions in a day, with feeds between them."""


class Breast(NamedTuple):
    """One breast and who takes milk from it.

    Attributes:
        rate: mL/h while it is empty.
        storage: mL at which it stops.
        power: How late filling slows.
        session: Mean share that a session takes, and how alike sessions are.
        feed: The same of feeds.
    """

    rate: float
    storage: float
    power: float
    session: tuple[float, float]
    feed: tuple[float, float]


def a_breast(rng: np.random.Generator, kind: Literal["usual", "other"]) -> Breast:
    """A breast at random; the 'other' ones fill, and are emptied, as the model does not suppose."""
    rate = math.exp(rng.normal(math.log(15), 0.5))
    storage = math.exp(rng.normal(math.log(180), 0.4))
    if kind == "usual":
        return Breast(rate, storage, 2.5, (rng.beta(9, 3), 10), (0.67, 6))
    return Breast(1.15 * rate, storage, 1.0, (rng.beta(8, 4), 7), (rng.beta(6, 4), 4))


def lived(
    rng: np.random.Generator, breast: Breast, schedule: Schedule
) -> tuple[list[float], float]:
    """What each session brought, read to 5 mL with an SD of 1.5 mL, and what was made in 24 hours."""
    there, made, now, read = breast.storage * rng.beta(2, 2), 0.0, 0.0, list[float]()
    rate, storage, power = breast.rate, breast.storage, breast.power  # a million steps ask for them
    for at, kind in schedule:
        for _ in range(round((at - now) / STEP_H)):
            full = there / storage
            more = rate * (1 - (full**power if full < 1 else 1)) * STEP_H
            there += more
            made += more
        now = at
        share, alike = breast.session if kind == "session" else breast.feed
        taken = there * rng.beta(share * alike, (1 - share) * alike)
        there -= taken
        if kind == "session":
            read.append(max(5.0 * round((taken + rng.normal(0, 1.5)) / 5), 0.0))
    return read, made * 24 / schedule[-1][0]
