"""Milk on hand: each container with its time, what to use first, how long it lasts, and giving it.

A family has one profile of times: that of the unit while the infant is on one, else that of home.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

import msgspec

from suffice.care.family.recording import record_following
from suffice.care.family.two_persons import Where, where_of
from suffice.clinical.entry import (
    AnyFact,
    Basis,
    Birth,
    Entry,
    Feed,
    MilkMoved,
    MilkStored,
    Plan,
    Record,
    about,
    standing,
)
from suffice.clinical.entry.milk import feed_of
from suffice.clinical.milk.storage import Moved, StorageProfile, UseBy, use_by
from suffice.clinical.units import HOURS_PER_DAY
from suffice.errors import InputError, Problem
from suffice.knowledge.store import Content
from suffice.message import Instant, message
from suffice.plan.by_age import plan_at
from suffice.plan.parameters import plan_parameters

KEYS: Final[dict[Where, dict[str, str]]] = {
    "home": {
        "room": "storage.room_h",
        "fridge": "storage.fridge_d",
        "freezer": "storage.freezer_months",
        "cold_box": "storage.cold_box_h",
        "thawed": "storage.thawed_h",
        "warmed": "storage.warmed_h",
    },
    "unit": {
        "room": "storage_unit.room_h",
        "fridge": "storage_unit.fridge_h",
        "freezer": "storage_unit.freezer_months",
        "cold_box": "storage_unit.cold_box_h",
        "thawed": "storage_unit.thawed_h",
        "warmed": "storage_unit.warmed_h",
    },
}
"""Where each time of a profile stands in the content."""
ENDED: Final = frozenset({"used", "discarded"})
NUMBER_LENGTH: Final = 5
"""Letters and digits of the number on a label."""


class Container(msgspec.Struct, frozen=True, kw_only=True):
    """A container of milk: what it is, until when it can be used.

    Attributes:
        entry: The entry by which it was put there.
        fact: What it is.
        number: What the label calls it.
        expressed_at: When it was expressed; of donor milk, when it came.
        thawed_at: When it was fully thawed, or began to thaw; None where it never was.
        use_by: Until when it can be used.
        is_over: Whether that time has come.
        second: Who read label and name band with whoever gave it; None before, or where nobody had to.
        by: Who gave it or threw it out, by the name to sign in with; None before.
    """

    entry: Entry
    fact: MilkStored
    number: str
    expressed_at: datetime
    thawed_at: datetime | None
    use_by: UseBy
    is_over: bool
    second: str | None = None
    by: str | None = None


class OnHand(msgspec.Struct, frozen=True, kw_only=True):
    """The milk of one infant.

    Attributes:
        where: Which profile of times it goes by.
        containers: What can be used, what is to be used first standing first.
        over: What is past its time and not thrown out yet.
        ended: What was given or thrown out, the latest first.
        volume_ml: How much can be used.
        cover_d: How many days that lasts by the plan; None where no plan says how much a day.
    """

    where: Where
    containers: tuple[Container, ...]
    over: tuple[Container, ...]
    ended: tuple[Container, ...]
    volume_ml: float
    cover_d: float | None


def profile_of(content: Content, where: Where) -> StorageProfile:
    """The times of a place of care."""
    return StorageProfile(**{name: content.constant(key) for name, key in KEYS[where].items()})


def on_hand(record: Record, infant_id: UUID, content: Content, *, now: datetime) -> OnHand:
    """The milk that is kept for an infant.

    Args:
        record: The family's record.
        infant_id: The infant.
        content: The content in force.
        now: The instant.
    """
    where = where_of(record, now)
    profile = profile_of(content, where)
    found = [
        _container(one, one.fact, record, profile, now)
        for one in standing(record.entries)
        if isinstance(one.fact, MilkStored) and one.infant_id == infant_id
    ]
    usable = sorted(
        (one for one in found if one.use_by.state not in ENDED and not one.is_over),
        key=lambda one: (one.use_by.at, one.expressed_at, one.number),
    )
    ended = [one for one in found if one.use_by.state in ENDED]
    volume = sum(one.fact.volume_ml for one in usable)
    daily = _daily_ml(record, infant_id, content, now)
    return OnHand(
        where=where,
        containers=tuple(usable),
        over=tuple(one for one in found if one.is_over),
        ended=tuple(sorted(ended, key=lambda one: one.use_by.since, reverse=True)),
        volume_ml=volume,
        cover_d=volume / daily if daily else None,
    )


def _container(
    entry: Entry, fact: MilkStored, record: Record, profile: StorageProfile, now: datetime
) -> Container:
    moves = [one for one in _moves(record, entry.id) if one.at <= now]
    expressed_at = fact.expressed_at or entry.true_at
    until = use_by(expressed_at, fact.place, moves, profile, fact.expires_at)
    thawed = [one.at for one in moves if one.to == "thawed"]
    thawed = thawed or [one.at for one in moves if one.to == "thawing"]
    end = _end_of(record, entry.id)
    return Container(
        entry=entry,
        fact=fact,
        number=number_of(entry.id),
        expressed_at=expressed_at,
        thawed_at=thawed[-1] if thawed else None,
        use_by=until,
        is_over=until.state not in ENDED and (until.was_late or until.at <= now),
        second=end.fact.second if end and isinstance(end.fact, MilkMoved) else None,
        by=end.entered_by if end else None,
    )


def _end_of(record: Record, milk_id: UUID) -> Entry | None:
    """The entry by which a container was given or thrown out."""
    return next(
        (
            one
            for one in standing(record.entries)
            if isinstance(one.fact, MilkMoved)
            and one.fact.milk_id == milk_id
            and one.fact.to in ENDED
        ),
        None,
    )


def _moves(record: Record, milk_id: UUID) -> Iterator[Moved]:
    for one in standing(record.entries):
        if isinstance(one.fact, MilkMoved) and one.fact.milk_id == milk_id:
            yield Moved(one.fact.to, one.true_at)


def number_of(milk_id: UUID) -> str:
    """What a label calls a container: short, and the same on every print."""
    return milk_id.hex[:NUMBER_LENGTH].upper()


def _daily_ml(record: Record, infant_id: UUID, content: Content, now: datetime) -> float | None:
    """The supplement of today by the last plan, mL; None without one."""
    own = about(record.entries_at(now), infant_id)
    plans = [one for one in own if isinstance(one.fact, Plan)]
    if not plans:
        return None
    born_at, gestation_days = next(
        ((one.true_at, one.fact.gestation_days) for one in own if isinstance(one.fact, Birth)),
        (None, None),
    )
    plan, _ = plan_at(plans[-1], now, born_at, gestation_days, plan_parameters(content))
    return plan.supplement_ml_per_day


# ---- what is done with it ---------------------------------------------------------------------


class Act(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody does with a container.

    Attributes:
        key: Client-made id; a second press does nothing more.
        milk_id: The container.
        to: What is done.
        second: Who read label and name band as the second person.
        number: The number that was read on the label, where it is given.
        now: The instant.
        actor: Who does it.
    """

    key: UUID
    milk_id: UUID
    to: str
    second: str
    number: str
    now: datetime
    actor: str


def act_on(family_id: UUID, act: Act, content: Content) -> tuple[Entry, ...]:
    """Put on the record what is done with a container; milk that is given is a feed too.

    Args:
        family_id: The family.
        act: What is done.
        content: The content in force.

    Returns:
        The entries that were made.

    Raises:
        InputError: MILK-001 to MILK-005.
        StorageError: RECORD-009.
    """
    stored: Sequence[Entry] = ()

    def made(record: Record) -> Sequence[Entry]:
        nonlocal stored
        stored = _of_act(record, act, content)
        return stored

    record_following(family_id, made, now=act.now, confirmed=True)
    return tuple(stored)


def _of_act(record: Record, act: Act, content: Content) -> tuple[Entry, ...]:
    if any(one.id == act.key for one in record.entries):
        return ()
    stored = next((one for one in standing(record.entries) if one.id == act.milk_id), None)
    if stored is None or not isinstance(stored.fact, MilkStored) or stored.infant_id is None:
        raise InputError(_no_container())
    # Whoever was faster may have been so by less than it took to get here.
    now = max([act.now, *(one.at for one in _moves(record, act.milk_id))])
    where = where_of(record, now)
    container = _container(stored, stored.fact, record, profile_of(content, where), now)
    problems = list(_problems(container, act))
    if problems:
        raise InputError(*problems)
    facts: list[AnyFact] = [
        MilkMoved(milk_id=act.milk_id, to=act.to, second=act.second.strip() or None)  # type: ignore[arg-type]
    ]
    if act.to == "used":
        facts.append(Feed(milk=stored.fact.milk, volume_ml=stored.fact.volume_ml))
    return tuple(
        Entry(
            id=act.key if number == 0 else feed_of(act.key),
            fact=fact,
            basis=Basis.OBSERVED if number == 0 else Basis.MEASURED,
            true_at=act.now,
            entered_at=act.now,
            entered_by=act.actor,
            infant_id=stored.infant_id,
        )
        for number, fact in enumerate(facts)
    )


def _problems(container: Container, act: Act) -> Iterator[Problem]:
    if container.use_by.state in ENDED:
        yield Problem(
            code="MILK-002",
            what=message("Container {number} was given or thrown out.", number=container.number),
            why=message("A container ends once."),
            fix=message("Read the number on the label again."),
        )
        return
    if act.to == "used":
        yield from _giving_problems(container, act)
    elif container.is_over and act.to != "discarded":
        yield _too_late(container)
    elif act.to == "freezer" and container.thawed_at is not None:
        yield Problem(
            code="MILK-005",
            what=message("Container {number} was thawed.", number=container.number),
            why=message("Thawed milk is not frozen again."),
            fix=message("Use it within its time, or throw it out."),
        )


def _giving_problems(container: Container, act: Act) -> Iterator[Problem]:
    if container.is_over:
        yield _too_late(container)
    if act.number.strip().upper() not in {"", container.number}:
        yield Problem(
            code="MILK-004",
            what=message("The label read says {number}.", number=act.number.strip()[:20]),
            why=message("This container is {number}.", number=container.number),
            fix=message("Take the right container, then read its label again."),
            where="number",
        )


def _too_late(container: Container) -> Problem:
    return Problem(
        code="MILK-001",
        what=message("Container {number} is out of date.", number=container.number),
        why=message("It could be used until {at}.", at=Instant(container.use_by.at, year=True)),
        fix=message("Throw it out. If it was given, write a note and tell a physician."),
    )


def _no_container() -> Problem:
    return Problem(
        code="MILK-006",
        what=message("There is no such container."),
        why=message("It was never put by for this family, or its entry was withdrawn."),
        fix=message("Load the page again."),
    )


LASTS: Final = timedelta(hours=HOURS_PER_DAY)
"""A container whose time ends within this is shown to be urgent."""
