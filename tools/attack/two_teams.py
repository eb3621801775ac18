"""A clinic of two teams on a server's record: one family with one of everything, and somebody of each role.

Nobody opens any of it but by the server: this puts it there, and says what its parts are called.
"""
# ruff: noqa: PLC0415 -- models can be imported only once Django is set up

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from uuid import UUID, uuid4

from PIL import Image

from tools.attack.needs import WORDS, Person
from tools.attack.server import PASSPHRASE, USER
from tools.drawn_family import family

NUMBER = 947_311
SECRET = f"Family {NUMBER}"
"""What the family is called, and no other: no answer to somebody who may not know of it holds that."""
ENTRIES, AGE_H = 200, 240.0
PICTURE = (1200, 900)
BY_ITSELF = frozenset(
    {
        *("sessions.Session", "record.TrailEvent", "record.Link", "record.ChainHead"),
        *("record.CaseloadRow", "record.Standing"),
    }
)
"""What is kept of the asking itself, or is worked out of what is there."""


@dataclass(frozen=True)
class Clinic:
    """What was put on the record.

    Attributes:
        family_id: The family of the team `own`.
        weights: Entries that can be corrected and taken back, one for each person.
        others: The entry of an address that shows one kind only, by the address's name.
        file: A file that nobody who asks has sent.
        names: What each person signs in as.
    """

    family_id: UUID
    weights: Sequence[UUID]
    others: dict[str, UUID]
    file: UUID
    names: dict[Person, str]

    def values(self, name: str, asked: frozenset[str], person: Person) -> dict[str, object]:
        """What stands in an address that a person asks for.

        Args:
            name: The name of the address.
            asked: The names of its parts.
            person: Who asks: each has a weight to correct that no other takes back meanwhile.
        """
        of_person = self.weights[list(self.names).index(person)]
        every = {
            **WORDS.get(name, {}),
            "family_id": self.family_id,
            "entry_id": self.others.get(name, of_person),
            "name": self.file,
        }
        return {one: every[one] for one in asked}


def put(people: Sequence[Person], *, now: datetime) -> Clinic:
    """Put the two teams, the family and the people on the record that Django is set up with."""
    from suffice.care import uploads
    from suffice.care.family.recording import open_family
    from suffice.record import teams

    own, other = teams.first_team(now=now), uuid4()
    teams.add_team(other, "The other team", now=now)
    record = family(Random(1), now, NUMBER, ENTRIES, age_h=AGE_H)
    open_family(record, now=now, actor=USER, confirmed=True, team_id=own)
    others = _one_of_everything(record.family_id, record.infants[0].id, now)
    weights = [one.id for one in record.entries if type(one.fact).__name__ == "Weight"]
    names = {one: f"person-{number}" for number, one in enumerate(people)}
    for one, name in names.items():
        _add(one, name, own if one.team == "own" else other)
    file = uploads.keep(b"infant,date,weight\n1,2026-01-01,3000\n", by=0)
    return Clinic(record.family_id, weights, others, file, names)


def _add(person: Person, name: str, team: UUID) -> None:
    from django.contrib.auth.models import User

    from suffice.care.clinic.roles import Duty
    from suffice.record import models, teams

    user = User.objects.create_user(
        name, password=PASSPHRASE, is_staff=person.duty is Duty.ADMINISTRATOR
    )
    if person.role is not None:
        teams.set_role(user.pk, team, person.role)
    if person.duty is Duty.AUDITOR:
        models.Person.objects.create(user=user, is_auditor=True)


def _one_of_everything(family_id: UUID, infant: UUID, now: datetime) -> dict[str, UUID]:
    """A watched feed, a photograph with the consent to it, milk on hand and a contact in progress."""
    from suffice.care.contact.photograph import keep_photograph
    from suffice.care.family.asking import record_of
    from suffice.care.family.recording import record_entries
    from suffice.clinical import entry as domain
    from suffice.clinical.feed.event import FeedEvent

    happened = (("left", 0), ("swallow", 2000), ("swallow", 4000), ("off", 9000))
    watched = domain.WatchedFeed(
        events=tuple(FeedEvent(at_ms=at_ms, what=what) for what, at_ms in happened)  # type: ignore[arg-type]
    )
    facts: list[tuple[domain.AnyFact, UUID | None]] = [
        (domain.Consent(to="photograph", given=True), None),
        (domain.ContactStart(place="home"), None),
        (domain.MilkStored(milk="expressed", volume_ml=40, place="fridge"), infant),
        (watched, infant),
    ]
    entries = [
        domain.Entry(
            id=uuid4(),
            fact=fact,
            basis=domain.Basis.REPORTED,
            true_at=now - timedelta(minutes=30),
            entered_at=now,
            entered_by=USER,
            infant_id=whose,
        )
        for fact, whose in facts
    ]
    record_entries(family_id, entries, now=now, confirmed=True)
    out, photograph = io.BytesIO(), uuid4()
    Image.new("RGB", PICTURE, (90, 90, 90)).save(out, "JPEG")
    keep_photograph(
        record_of(family_id),
        out.getvalue(),
        domain.LatchPhotograph(side="left", view="side"),
        key=photograph,
        infant_id=infant,
        now=now,
        actor=USER,
    )
    return {
        "feed": entries[-1].id,
        "photograph": photograph,
        "photograph-picture": photograph,
    }


def state() -> dict[str, str]:
    """A digest of each table, those left out that asking changes by itself."""
    from django.apps import apps

    return {
        model._meta.label: hashlib.sha256(  # noqa: SLF001 -- Django's own name for it
            repr(sorted(model._base_manager.values_list(), key=repr)).encode()  # noqa: SLF001
        ).hexdigest()
        for model in apps.get_models(include_auto_created=True)
        if model._meta.label not in BY_ITSELF  # noqa: SLF001
    }
