"""Drawn families for whom plans are made: the same family for the same seed, none of them real.

Some thrive and some do not, born at term or before, in the first days or weeks later, weighed well or
badly, with weighed feeds, supplements, sessions, an earlier plan, a twin, illness, or none of these.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import NamedTuple

from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import (
    AnyFact,
    Birth,
    Entry,
    Expression,
    Feed,
    FeedCount,
    Illness,
    Infant,
    ParentDay,
    Plan,
    Record,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)

PROBLEMS = (
    "low_supply",
    "engorgement",
    "poor_transfer",
    "stopping",
    "pump_dependent",
    "excess_supply",
)
HELPERS = (None, None, "18-24", "22-6", "8-18", "18-24, 5-7")


class Drawn(NamedTuple):
    """A family: its record, its infants, how many days after birth, and problems that are named."""

    record: Record
    day: float
    problems: tuple[str, ...]


def drawn_family(seed: int) -> Drawn:
    """A family, the same for the same seed."""
    draw = Random(seed)
    count = 2 if draw.random() < 0.15 else 1
    infants = tuple(Infant(id=an_id(f"{seed} infant {n}"), position=n + 1) for n in range(count))
    day = draw.choice([1.5, 2.5, 3.5, 5, 8, 12, 18, 30, 60]) + draw.random() / 2
    entries = [one for infant in infants for one in _of_infant(draw, seed, infant, day)]
    entries += _of_parent(draw, seed, day)
    record = Record(family_id=an_id(f"{seed} family"), infants=infants, entries=tuple(entries))
    problems = tuple(one for one in PROBLEMS if draw.random() < 0.12)
    return Drawn(record, day, problems)


def _entry(seed: int, name: str, fact: AnyFact, infant: Infant | None, day: float) -> Entry:
    return an_entry(
        f"{seed} {name} {infant and infant.position}", fact, infant=infant, at_h=24 * day
    )


def _of_infant(draw: Random, seed: int, infant: Infant, day: float) -> Iterator[Entry]:
    gestation = draw.choice([276, 276, 280, 270, 262, 250, 244, 230])
    birth_g = round((3400 if gestation > 258 else 2500) * draw.uniform(0.85, 1.15))
    birth = Birth(
        zone="UTC", sex=draw.choice(["male", "female"]),  # type: ignore[arg-type]
        gestation_days=gestation, birth_weight_g=float(birth_g), mode="vaginal",
    )  # fmt: skip
    yield _entry(seed, "birth", birth, infant, 0)
    loss, gain = draw.uniform(0.03, 0.12), draw.choice([32.0, 28.0, 20.0, 10.0, 0.0])
    at = 2.0
    while at < day and draw.random() < 0.9:
        grams = birth_g * (1 - loss) + max(at - 3, 0) * gain + draw.gauss(0, 25)
        yield _entry(seed, f"weight {at}", Weight(weight_g=float(round(grams))), infant, at)
        at += draw.choice([1.0, 3.0, 4.0, 7.0])
    before = day - 0.2
    if draw.random() < 0.7:
        feeds = FeedCount(count=draw.choice([6, 8, 9, 11]))
        yield _entry(seed, "feeds", feeds, infant, before)
        yield _entry(seed, "wets", Wet(count=draw.choice([1, 4, 6, 7]), over_h=24), infant, before)
        stools = Stool(count=draw.choice([0, 2, 4]), over_h=24)
        yield _entry(seed, "stools", stools, infant, before)
    if draw.random() < 0.5 and day > 2:
        took = draw.choice([5, 15, 35, 60])
        for n in range(8):
            weighed = TestWeight(before_g=float(birth_g), after_g=float(birth_g + took))
            yield _entry(seed, f"test {n}", weighed, infant, day - 1.1 + n / 8)
    if draw.random() < 0.4 and day > 1.5:
        milk = draw.choice(["formula", "expressed"])
        for n in range(draw.choice([2, 6])):
            fed = Feed(milk=milk, volume_ml=float(draw.choice([10, 30, 60])))  # type: ignore[arg-type]
            yield _entry(seed, f"fed {n}", fed, infant, day - 0.9 + n / 8)
    if draw.random() < 0.25 and day > 4:
        amount = draw.choice([0.0, 120.0, 240.0, 400.0])
        plan = Plan(
            move="first", feeds_count=8, at_breast=draw.choice(["every feed", "not now"]),
            supplement_ml_per_day=amount, supplement_feeds_count=8 if amount else None,
            supplement_ml=amount / 8 if amount else None,
        )  # fmt: skip
        yield _entry(seed, "plan", plan, infant, day - draw.choice([1.5, 3.5]))
    if draw.random() < 0.1:
        yield _entry(seed, "fever", Temperature(temperature_c=38.6), infant, before)
    if draw.random() < 0.1:
        yield _entry(seed, "ill", Illness(what="jaundice"), infant, before)


def _of_parent(draw: Random, seed: int, day: float) -> Iterator[Entry]:
    if draw.random() < 0.4:
        for n in range(draw.choice([3, 6, 8])):
            session = Expression(left_ml=draw.uniform(2, 60), right_ml=draw.uniform(2, 60))
            yield _entry(seed, f"session {n}", session, None, day - 1.0 + n / 8)
    if draw.random() < 0.5:
        fact = ParentDay(
            sleep_h=float(draw.choice([4, 5, 6, 7])),
            sleep_between=draw.choice([None, "21-8", "22-7"]),
            helpers=draw.choice(HELPERS),
            away="9-15" if draw.random() < 0.15 else None,
            expresses_away=draw.random() < 0.5,
            feeds_together=draw.random() < 0.5,
        )
        yield _entry(seed, "day", fact, None, day - 0.1)


__all__ = ["BORN_AT", "Drawn", "drawn_family"]
