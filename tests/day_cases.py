"""Days that a plan is fitted into: six worked ones, and as many drawn ones as a test wants."""

from __future__ import annotations

from random import Random
from typing import Any

from suffice.clinical.reading.hours import hours_of
from suffice.knowledge.store import load
from suffice.plan.schedule_case import DayCase
from suffice.plan.schedule_parameters import schedule_parameters

PARAMETERS = schedule_parameters(load())
SLOW: dict[str, Any] = {
    "feeds_count": 9,
    "gap_day_minutes": 180,
    "gap_night_minutes": 180,
    "at_breast": "every feed",
    "breast_minutes": 30.0,
    "short_breast_minutes": 20.0,
    "milk_minutes": 15.0,
    "bottle_minutes": 25.0,
    "milk_feeds_count": 9,
    "sessions_count": 8,
    "session_minutes": 25.0,
    "removal_gap_minutes": 300,
    "is_own_milk": False,
    "sleep_minutes": 300,
    "sleep": hours_of("21-9"),
    "cleaning_minutes": 30.0,
}
"""Slow gain on day 10: nine feeds with extra milk after each, and eight sessions."""


def a_case(**changed: Any) -> DayCase:
    """The slow gain with what is said here instead."""
    return DayCase(**{**SLOW, **changed})


ALONE = a_case()
PARTNER = a_case(helpers=hours_of("18-24, 5-7"))
UNIT = a_case(feeds_count=0, away=hours_of("10-15"), expresses_away=True, milk_feeds_count=0)
WORK = a_case(
    feeds_count=7,
    gap_day_minutes=300,
    gap_night_minutes=360,
    milk_feeds_count=0,
    sessions_count=3,
    is_own_milk=True,
    away=hours_of("8:30-17"),
    expresses_away=True,
    helpers=hours_of("8-17:30"),
    sleep_minutes=360,
)
NOBODY_FEEDS = a_case(away=hours_of("8-16"))


def drawn(seed: int) -> DayCase:
    """A family's day, the same for the same seed."""
    draw = Random(seed)
    feeds = draw.choice([7, 8, 8, 8, 9, 10, 12])
    gap = draw.choice([180, 180, 180, 240, 300])
    is_bottle = draw.random() < 0.2
    helpers = draw.choice(["", "", "18-24", "22-6", "18-24, 5-7", "8-18", "19-22", "0-24"])
    changed: dict[str, Any] = {
        "feeds_count": feeds,
        "gap_day_minutes": gap,
        "gap_night_minutes": gap + draw.choice([0, 60]),
        "at_breast": "not now" if is_bottle else "every feed",
        "milk_feeds_count": feeds if is_bottle else draw.choice([0, 0, feeds // 2, feeds, feeds]),
        "sessions_count": draw.choice([0, 0, 3, 6, 8, 8]),
        "sleep_minutes": 60 * draw.choice([4, 5, 6, 7]),
        "is_own_milk": draw.random() < 0.4,
        "breast_minutes": float(draw.choice([20, 30, 30, 40])),
    }
    if draw.random() < 0.25:
        changed |= {"away": hours_of("8:30-17"), "expresses_away": draw.random() < 0.6}
        helpers = draw.choice(["8-18", "8-18", helpers])
    if draw.random() < 0.25:  # twins together
        changed |= {"breast_minutes": 40.0, "milk_minutes": 25.0, "bottle_minutes": 35.0}
    if not changed["sessions_count"]:
        changed["removal_gap_minutes"] = None
    return a_case(**changed, helpers=hours_of(helpers))
