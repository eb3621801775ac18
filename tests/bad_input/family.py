"""The two families whom the tables of bad input are about, at an instant that stands still.

The clinic is in Madrid; it is 25 November 2026, 11:00. The twins Ava and Ben were born on 20 October
at 10:00, before the clocks went back on the 25th. Cleo is of another family.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from spoken import text
from suffice.clinical import entry as domain
from suffice.errors import SufficeError
from suffice.knowledge.policy import Policy

ZONE = "Europe/Madrid"
MADRID = ZoneInfo(ZONE)
CLINIC = Policy(zone=ZONE)
"""The clinic whose clock the pages show; what is said to its shell is said by the same."""
NOW = datetime(2026, 11, 25, 11, 0, tzinfo=MADRID)
BORN = datetime(2026, 10, 20, 10, 0, tzinfo=MADRID)
OPENED = datetime(2026, 10, 21, 9, 0, tzinfo=MADRID)

FAMILY = UUID("7d0c8f0a-93a5-4a55-8a3f-0b6e7f6f1c01")
OTHER = UUID("7d0c8f0a-93a5-4a55-8a3f-0b6e7f6f1c02")


def an_id(name: str) -> UUID:
    """The same id for the same name, in every run."""
    return uuid5(FAMILY, name)


AVA, BEN, CLEO = (an_id(name) for name in ("Ava", "Ben", "Cleo"))
IDS = {
    "the family": FAMILY,
    "the other family": OTHER,
    **{
        name: an_id(name)
        for name in (
            "Ava",
            "Ben",
            "Cleo",
            "nobody",
            "a new entry",
            "Ava's birth",
            "Ava's weight of 3 November",
            "Ava's weight of 24 November",
            "Ava's mistyped weight",
            "Ava's corrected weight",
            "Ava's withdrawn weight",
            "the withdrawal",
            "Ava's wets",
            "Cleo's weight",
            "Dara",
            "Dara's birth",
            "Dara's first weight",
            "Dara's mistyped weight",
            "Dara's weight",
            "Dara's withdrawn weight",
            "Dara's withdrawal",
            "Dara's last weight",
            "Dara's wets",
            "fourth parent",
            "session",
        )
    },
}


def an_entry(
    name: str,
    fact: domain.AnyFact,
    at: datetime,
    infant_id: UUID | None = None,
    replaces: str = "",
) -> domain.Entry:
    return domain.Entry(
        id=an_id(name),
        fact=fact,
        basis=domain.Basis.MEASURED,
        true_at=at.astimezone(ZoneInfo("UTC")),
        entered_at=max(at + timedelta(minutes=10), OPENED).astimezone(ZoneInfo("UTC")),
        entered_by="consultant",
        infant_id=infant_id,
        device="scale 1" if isinstance(fact, domain.Weight) else None,
        replaces=an_id(replaces) if replaces else None,
    )


def born(name: str, infant_id: UUID, multiple: int) -> domain.Entry:
    fact = domain.Birth(
        zone=ZONE,
        sex="female",
        gestation_days=266,
        birth_weight_g=3000,
        mode="vaginal",
        multiple=multiple,
    )
    return an_entry(f"{name}'s birth", fact, BORN, infant_id)


def weighed(name: str, day: tuple[int, int], weight_g: float, **more: Any) -> domain.Entry:
    month, date = day
    at = datetime(2026, month, date, 10, 0, tzinfo=MADRID)
    return an_entry(name, domain.Weight(weight_g=weight_g, clothing="naked"), at, **more)


def twins() -> domain.Record:
    """Ava and Ben: one weight was corrected, one withdrawn."""
    parent = an_entry("parent", domain.Identity(name="Oriane Testcase"), OPENED)
    withdrawn = weighed("Ava's withdrawn weight", (11, 17), 3600, infant_id=AVA)
    entries = (
        parent,
        born("Ava", AVA, 2),
        born("Ben", BEN, 2),
        weighed("Ava's weight of 3 November", (11, 3), 3150, infant_id=AVA),
        weighed("Ava's mistyped weight", (11, 10), 3440, infant_id=AVA),
        weighed(
            "Ava's corrected weight",
            (11, 10),
            3400,
            infant_id=AVA,
            replaces="Ava's mistyped weight",
        ),
        withdrawn,
        an_entry(
            "the withdrawal",
            domain.Withdrawal(reason="it was Ben's"),
            withdrawn.true_at,
            AVA,
            "Ava's withdrawn weight",
        ),
        weighed("Ava's weight of 24 November", (11, 24), 3800, infant_id=AVA),
        an_entry("Ava's wets", domain.Wet(count=6, over_h=24), NOW - timedelta(days=1), AVA),
    )
    infants = tuple(domain.Infant(id=one, position=n) for n, one in enumerate((AVA, BEN), 1))
    return domain.Record(family_id=FAMILY, infants=infants, entries=entries)


def another() -> domain.Record:
    """Cleo and her parent."""
    entries = (
        an_entry("other parent", domain.Identity(name="Second Testcase"), OPENED),
        born("Cleo", CLEO, 1),
        weighed("Cleo's weight", (11, 3), 3200, infant_id=CLEO),
    )
    return domain.Record(
        family_id=OTHER, infants=(domain.Infant(id=CLEO, position=1),), entries=entries
    )


def everything_stored() -> list[tuple[object, ...]]:
    """All that the record holds; two readings are the same when nothing was stored between."""
    from suffice.record import models  # noqa: PLC0415  # only when Django is set up

    def rows(query: Callable[[], Any]) -> list[tuple[object, ...]]:
        return sorted(query().values_list("id"))

    return [
        (model.__name__, tuple(rows(model.objects.all)))
        for model in (models.Family, models.Infant, models.Entry, models.PolicyVersion)
    ]


def problems_words(error: SufficeError) -> list[tuple[str, str, str]]:
    """Code, place and words of each problem, as the clinic reads them."""
    return [
        (
            one.code,
            text(one.where, CLINIC),
            " ".join(text(part, CLINIC) for part in (one.what, one.why, one.fix) if part),
        )
        for one in error.problems
    ]
