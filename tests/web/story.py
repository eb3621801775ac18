"""The family that the page tests tell of: twins of ten days, one of whom has lost too much."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4, uuid5

from suffice.clinical import entry as domain

FAMILY = UUID("2f6b0f7e-0f0a-4b52-9d0e-5a3d1c8e7b11")
PASSPHRASE = "four quiet words here"
NAME = "Oriane Testcase"


def an_id(name: str) -> UUID:
    return uuid5(FAMILY, name)


def entry(
    name: str,
    fact: domain.AnyFact,
    at: datetime,
    infant: UUID | None = None,
    basis: domain.Basis = domain.Basis.MEASURED,
) -> domain.Entry:
    return domain.Entry(
        id=an_id(name),
        fact=fact,
        basis=basis,
        true_at=at,
        entered_at=datetime.now(UTC) - timedelta(minutes=1),
        entered_by="consultant",
        infant_id=infant,
        device="scale 1" if isinstance(fact, domain.Weight) else None,
    )


def entered(
    fact: domain.AnyFact,
    *,
    key: UUID | None = None,
    infant: UUID | None = None,
    basis: domain.Basis = domain.Basis.REPORTED,
    by: str = "consultant",
    hours_ago: float = 0.0,
) -> domain.Entry:
    """An entry that is made now, past every page; true so many hours ago."""
    now = datetime.now(UTC)
    return domain.Entry(
        id=key or uuid4(),
        fact=fact,
        basis=basis,
        true_at=now - timedelta(hours=hours_ago),
        entered_at=now,
        entered_by=by,
        infant_id=infant,
    )


def twins(now: datetime) -> domain.Record:
    """Twins of ten days: the first gains, the second has lost 12 percent."""
    born = now - timedelta(days=10)
    infants = tuple(domain.Infant(id=an_id(f"infant {n}"), position=n) for n in (1, 2))
    first, second = (infant.id for infant in infants)
    entries = [
        entry("parent", domain.Identity(name=NAME), born),
        entry("name 1", domain.Identity(name="Ava"), born, first),
        entry("name 2", domain.Identity(name="Ben"), born, second),
        entry("contact", domain.Contact(setting=domain.Setting.HOME), now - timedelta(hours=5)),
    ]
    for place, infant in ((1, first), (2, second)):
        birth = domain.Birth(
            zone="UTC",
            sex="female" if place == 1 else "male",
            gestation_days=266,
            birth_weight_g=3000,
            mode="vaginal",
            multiple=2,
        )
        entries.append(entry(f"birth {place}", birth, born, infant))
        last = 3100 if place == 1 else 2640
        for day, weight_g in ((3, 2800), (7, (2800 + last) / 2), (9, last)):
            fact = domain.Weight(weight_g=weight_g, clothing="naked")
            at = born + timedelta(days=day)
            entries.append(entry(f"weight {place} {day}", fact, at, infant))
    return domain.Record(family_id=FAMILY, infants=infants, entries=tuple(entries))
