"""The facts that a colleague is given in a line each: what, how much, when, how it is known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Final
from uuid import UUID

import msgspec

from suffice.assess.died import who_died
from suffice.assess.results import Finding, InfantAssessment
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import (
    Bilirubin,
    Birth,
    Entry,
    Fact,
    Feed,
    FeedCount,
    Illness,
    Sign,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
    kind_of,
)
from suffice.clinical.reading.writing import gestation_text
from suffice.clinical.working import Figure
from suffice.documents.frame import Source
from suffice.language.facts import parts_of
from suffice.language.kinds import KINDS, choice_name
from suffice.message import Age, Amount, Instant, Listed, Message, Number, Words, joined, message

GAIN: Final = "gain_g_per_day"
OF_PARENT: Final[tuple[tuple[type[Fact], ...], ...]] = ((Temperature,),)
OF_INFANT: Final[tuple[tuple[type[Fact], ...], ...]] = (
    (Weight, TestWeight),
    (Wet,),
    (Stool,),
    (FeedCount, Feed),
    (Temperature,),
)
"""What is asked first about each; of kinds that stand together one is enough."""


class KnownFact(msgspec.Struct, frozen=True, kw_only=True):
    """One fact as a colleague reads it.

    Attributes:
        what: What it is.
        value: How much, with its unit.
        at: When it was so.
        basis: Measured, observed, reported, or computed from what.
        entries: The entries that it rests on.
    """

    what: Words
    value: Words
    at: datetime
    basis: Words
    entries: tuple[UUID, ...] = ()


def who_is(source: Source, whose: UUID | None) -> Words:
    """Who somebody is, for a colleague: name, age, birth, and of an infant the parent."""
    infant = source.infant(whose)
    parent = source.assessment.name
    if infant is None:
        born = (one.born_at for one in source.assessment.infants if one.born_at is not None)
        ages_h = [elapsed_h(at, source.as_of) for at in born if at <= source.as_of]
        if not ages_h:
            return message("{name}, the parent.", name=source.named(None))
        last = message("{age}", age=Age(min(ages_h)))
        after_birth = message("{name}, {ages} after birth.", name=source.named(None), ages=last)
        return joined(after_birth, *who_died(source.assessment.infants))
    parts: list[Words] = []
    if infant.age_h is not None and infant.died is None:
        parts.append(message("{age} old", age=Age(infant.age_h)))
    if infant.born_at is not None:
        parts.append(message("born {instant}", instant=Instant(infant.born_at)))
    if infant.gestation_days is not None:
        weeks = gestation_text(infant.gestation_days)
        parts.append(message("at {weeks} weeks", weeks=weeks))
    if infant.birth_weight_g is not None:
        weight = Amount(infant.birth_weight_g, "g")
        parts.append(message("birth weight {weight}", weight=weight))
    mode = next((e.fact.mode for e in source.own(whose) if isinstance(e.fact, Birth)), None)
    if mode:
        parts.append(choice_name(mode))
    return message(
        "{name}, {facts}. Parent: {parent}.",
        name=infant.name,
        facts=Listed(tuple(parts)) if parts else message("birth facts not known"),
        parent=parent or message("name not entered"),
    )


def facts_of(source: Source, whose: UUID | None) -> tuple[KnownFact, ...]:
    """The facts about one person, those that the most urgent finding rests on first."""
    infant = source.infant(whose)
    own = source.own(whose)
    found = [*(_of_infant(infant, own) if infant else ()), *_others(own)]
    findings = infant.findings if infant else source.assessment.findings
    place: dict[UUID, int] = {}
    for number, key in _rested_on(findings):
        place.setdefault(key, number)
    far = len(findings)
    return tuple(
        sorted(
            found, key=lambda one: min((place.get(key, far) for key in one.entries), default=far)
        )
    )


def not_known(source: Source, whose: UUID | None) -> tuple[Words, ...]:
    """What a colleague would ask first and nobody has entered."""
    infant = source.infant(whose)
    asked = OF_INFANT if infant else OF_PARENT
    entered = {type(one.fact) for one in source.own(whose)}
    if infant and infant.weights:
        entered.add(Weight)  # that of birth is one
    return tuple(_kind_name(kinds[0]) for kinds in asked if entered.isdisjoint(kinds))


def _rested_on(findings: Iterable[Finding]) -> Iterator[tuple[int, UUID]]:
    """The entries of the findings that somebody acts on, each with the place of its finding."""
    for number, one in enumerate(findings):
        if one.colour != "note":
            yield from ((number, key) for key in (*one.entry_ids, *one.noted_ids) if key)


def _of_infant(infant: InfantAssessment, own: tuple[Entry, ...]) -> Iterator[KnownFact]:
    if infant.weights:
        yield _weight(infant, own)
    gain = infant.figures.get(GAIN)
    if gain is not None and infant.usable_weights:
        last_used = infant.usable_weights[-1]
        yield KnownFact(
            what=message("gain"),
            value=_gain(gain),
            at=last_used.at,
            basis=message("calculated from weights"),
            entries=(last_used.entry_id,),
        )
    for key, kind in (("wets_24h", Wet), ("stools_24h", Stool)):
        figure, last = infant.figures.get(key), _latest(own, kind)
        if figure is None or last is None:
            continue
        expected = infant.figures.get(f"{key}_expected")
        yield KnownFact(
            what=message("{what} in 24 h", what=_kind_name(kind)),
            value=_counted(figure, expected),
            at=last.true_at,
            basis=choice_name(last.basis),
            entries=(last.id,),
        )


def _weight(infant: InfantAssessment, own: tuple[Entry, ...]) -> KnownFact:
    row = infant.weights[-1]
    entry = next((one for one in own if one.id == row.entry_id), None)
    weight = Amount(row.weight_g, "g")
    value: Words = message("{weight}", weight=weight)
    if row.age_h <= 0:
        value = message("{weight}, at birth", weight=weight)
    is_clothed = row.clothing == "clothed"
    if row.change_percent is not None and row.age_h > 0 and not is_clothed:
        change = Amount(abs(row.change_percent), "%", 1)
        value = (
            message("{weight}, {change} below birth weight", weight=weight, change=change)
            if row.change_percent < 0
            else message("{weight}, {change} above birth weight", weight=weight, change=change)
        )
    return KnownFact(
        what=message("weight in clothes") if is_clothed else message("weight"),
        value=value,
        at=row.at,
        basis=_basis(entry) if entry else message("measured"),
        entries=(row.entry_id,),
    )


def _gain(gain: Figure) -> Words:
    value = Amount(gain.value, "g/d", signed=True)
    if gain.low is None or gain.high is None:
        return message("{value}", value=value)
    low, high = Amount(gain.low, "g/d"), Amount(gain.high, "g/d")
    return message("{value} ({low} to {high})", value=value, low=low, high=high)


def _counted(figure: Figure, expected: Figure | None) -> Words:
    count: Words = message("{count}", count=Number(figure.value, 0))
    if figure.high is None:
        # Not every one was written down: a physician must not read it as all there were.
        count = message("{count} written down, there may be more", count=Number(figure.value, 0))
    if expected is None:
        return count
    return message(
        "{count} (at least {least} expected)", count=count, least=Number(expected.value, 0)
    )


def _others(own: tuple[Entry, ...]) -> Iterator[KnownFact]:
    """Temperature, bilirubin and counted feeds as last entered, and each sign and illness that is there."""
    for kind in (Temperature, Bilirubin, FeedCount):
        last = _latest(own, kind)
        if last is not None:
            yield _entered(last)
    last_said: dict[str, Entry] = {}
    for entry in own:
        if isinstance(entry.fact, Sign):
            last_said[entry.fact.sign] = entry
        elif isinstance(entry.fact, Illness):
            last_said[entry.fact.what] = entry
    for entry in last_said.values():
        if isinstance(entry.fact, Sign | Illness) and entry.fact.present:
            yield _entered(entry)


def _entered(entry: Entry) -> KnownFact:
    return KnownFact(
        what=_kind_name(type(entry.fact)),
        value=message("{parts}", parts=Listed(parts_of(entry.fact))),
        at=entry.true_at,
        basis=_basis(entry),
        entries=(entry.id,),
    )


def _basis(entry: Entry) -> Words:
    """How a fact is known, and with what it was measured."""
    basis = choice_name(entry.basis)
    if entry.device:
        return message("{basis}, {device}", basis=basis, device=entry.device)
    return basis


def _kind_name(kind: type[Fact]) -> Message:
    return KINDS[kind_of(kind)]


def _latest(entries: Iterable[Entry], kind: type[Fact]) -> Entry | None:
    found = [one for one in entries if isinstance(one.fact, kind)]
    return max(found, key=lambda one: one.true_at, default=None)


def without_asking(finding: Finding, source: Source) -> tuple[Words, ...]:
    """What a finding says, without what it asks of the consultant: that is no physician's business."""
    asked = {row.asks for row in source.content.flags if row.code == finding.code and row.asks}
    return tuple(
        one for one in finding.messages if not (isinstance(one, Message) and one.template in asked)
    )
