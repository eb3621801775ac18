"""Invented families of any length, for the benchmarks and for the trials against a server."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from random import Random

from suffice.clinical import entry

WEIGHTS_MOST = 20


def _facts(
    rng: Random, age_h: float, count: int, birth_weight_g: float
) -> Iterator[tuple[float, entry.AnyFact]]:
    """Kind of fact and its age in hours, `count` of them, as a family's log would hold them.

    One in ten is a weight, but at most `WEIGHTS_MOST` in all: nobody weighs every hour.
    """
    for k in range(count):
        at_h = age_h * (k + 1) / (count + 1)
        kind = k % 10
        if kind == 0 and k % max(10, count // WEIGHTS_MOST) < 10:
            days = at_h / 24
            lost = 0.06 * min(days / 3, 1.0) if days < 3 else 0.06
            gained = max(days - 3, 0) * 28
            weight = birth_weight_g * (1 - lost) + gained + rng.gauss(0, 30)
            yield at_h, entry.Weight(weight_g=round(weight), clothing="naked")
        elif kind in {1, 2, 3, 4}:
            yield at_h, entry.Feed(milk="breast", side="left", minutes=20)
        elif kind == 5:
            yield at_h, entry.Feed(milk="formula", volume_ml=float(rng.randrange(10, 60, 5)))
        elif kind in {6, 7}:
            yield at_h, entry.Wet()
        elif kind == 8:
            yield at_h, entry.Stool(colour="yellow")
        else:
            yield at_h, entry.Temperature(temperature_c=36.8)


def family(
    rng: Random, now: datetime, number: int, count: int, age_h: float | None = None
) -> entry.Record:
    """One invented family's record, its infant of the age given or of any."""
    age_h = age_h or rng.uniform(2, 24 * 70)
    born_at = now - timedelta(hours=age_h)
    infant = entry.Infant(id=uuid.UUID(int=rng.getrandbits(128), version=4), position=1)
    birth_weight_g = round(rng.gauss(3400, 400))

    def made(fact: entry.AnyFact, at_h: float, infant_id: uuid.UUID | None) -> entry.Entry:
        at = born_at + timedelta(hours=at_h)
        return entry.Entry(
            id=uuid.UUID(int=rng.getrandbits(128), version=4),
            fact=fact,
            basis=entry.Basis.REPORTED,
            true_at=at,
            entered_at=at,
            entered_by="bench",
            infant_id=infant_id,
        )

    birth = entry.Birth(
        zone="Europe/Lisbon",
        sex=rng.choice(["male", "female"]),
        gestation_days=rng.randrange(259, 290),
        birth_weight_g=birth_weight_g,
        mode=rng.choice(["vaginal", "caesarean"]),
    )
    entries = [
        made(birth, 0.0, infant.id),
        made(entry.Identity(name=f"Family {number}"), 0.0, None),
        made(entry.Contact(setting=rng.choice(list(entry.Setting))), 0.0, None),
    ]
    rest = count - len(entries)
    entries += [made(f, h, infant.id) for h, f in _facts(rng, age_h, rest, birth_weight_g)]
    return entry.Record(
        family_id=uuid.UUID(int=rng.getrandbits(128), version=4),
        infants=(infant,),
        entries=tuple(entries),
    )
