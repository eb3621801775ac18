"""The demo families as records, counted back from the instant of loading.

Ids come from the families' keys and every wobble from a hash, so that two loads at the same
instant are the same to the bit, and a load on another day differs only in its instants.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from uuid import NAMESPACE_URL, UUID, uuid5
from zoneinfo import ZoneInfo

from suffice.care.demo.scenario import (
    Scenario,
    WrittenContact,
    WrittenCount,
    WrittenCourse,
    WrittenDailyFeeds,
    WrittenFamily,
    WrittenInfant,
    WrittenSign,
)
from suffice.clinical.entry import (
    Answer,
    AnyFact,
    Basis,
    Birth,
    Contact,
    Entry,
    Expression,
    Feed,
    Handover,
    Identity,
    Illness,
    Infant,
    Known,
    Note,
    Observation,
    Record,
    Sign,
    Size,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)
from suffice.clinical.units import DAYS_PER_WEEK, HOURS_PER_DAY

NAMESPACE = uuid5(NAMESPACE_URL, "suffice:demo")
ENTERED_LATER = timedelta(minutes=10)
BEFORE_THE_CLOCK_CHANGE = timedelta(minutes=20)


class Families:
    """Builds the records of a scenario as they stand at one instant.

    Args:
        written: The scenario.
        now: Aware instant of loading; nothing lies after it.
        entered_by: User who is said to have made the entries.
    """

    def __init__(self, written: Scenario, *, now: datetime, entered_by: str) -> None:
        self._written = written
        self._now = now.astimezone(UTC).replace(second=0, microsecond=0)
        self._entered_by = entered_by
        self._zone = written.service.zone

    def records(self) -> Iterator[Record]:
        """One record for each family, in the order written."""
        for family in self._written.family:
            yield self._record(family)

    def _record(self, family: WrittenFamily) -> Record:
        entries: list[Entry] = []
        infants = []
        for position, written in enumerate(family.infant, start=1):
            infant = Infant(id=uuid5(NAMESPACE, f"{family.key}/{position}"), position=position)
            infants.append(infant)
            entries += self._infant_entries(family.key, infant, written)
        entries += self._family_entries(family, entries[0].true_at)
        return Record(
            family_id=uuid5(NAMESPACE, family.key),
            infants=tuple(infants),
            entries=tuple(sorted(entries, key=lambda e: (e.true_at, str(e.id)))),
        )

    def _family_entries(self, family: WrittenFamily, born_at: datetime) -> Iterator[Entry]:
        yield self._entry(family.key, "parent", Identity(name=family.parent), born_at)
        for number, contact in enumerate(family.contacts):
            at = self._ago(contact.ago_h)
            yield self._entry(family.key, f"contact {number}", self._contact(contact), at)
        for number, taken in enumerate(family.temperatures):
            measured = Temperature(temperature_c=taken.c, site=taken.site)
            at = self._ago(taken.ago_h)
            yield self._entry(family.key, f"temperature {number}", measured, at)
        for number, seen in enumerate(family.signs):
            sign = self._sign(seen)
            yield self._entry(family.key, f"sign {number}", sign, self._ago(seen.ago_h))
        for number, mood in enumerate(family.mood_totals):
            at = self._ago(mood.ago_h)
            for what, answer in (("mood_total", str(mood.points)), ("self_harm_item", "never")):
                found = Observation(what=what, answer=answer)
                yield self._entry(family.key, f"{what} {number}", found, at)
        for number, one in enumerate(family.parent_counts):
            for what, count in (("parent_pulse", one.pulse), ("parent_breaths", one.breaths)):
                if count is None:
                    continue
                counted = Observation(what=what, answer=str(count))
                yield self._entry(family.key, f"{what} {number}", counted, self._ago(one.ago_h))
        for number, illness in enumerate(family.illnesses):
            fact: AnyFact = Illness(what=illness.what)
            yield self._entry(family.key, f"illness {number}", fact, self._ago(illness.ago_h))
        for name, fact, ago_h in self._in_care(family):
            yield self._entry(family.key, name, fact, self._ago(ago_h))
        yield from self._sessions(family)

    def _sessions(self, family: WrittenFamily) -> Iterator[Entry]:
        for number, session in enumerate(family.expressions):
            fact = Expression(
                left_ml=session.left,
                right_ml=session.right,
                minutes=session.minutes,
                method=session.method,
                hours_since_last=session.since,
            )
            at = self._ago(session.ago_h)
            basis = Basis.MEASURED
            yield self._entry(family.key, f"expression {number}", fact, at, basis=basis)

    def _contact(self, contact: WrittenContact) -> Contact:
        due = None if contact.due_in_h is None else self._ago(-contact.due_in_h)
        return Contact(setting=contact.setting, next_due_at=due)

    def _infant_entries(self, key: str, infant: Infant, written: WrittenInfant) -> list[Entry]:
        born_at = self._born_at(written)
        made: list[tuple[str, AnyFact, datetime, Basis, str | None]] = [
            ("birth", self._birth(written), born_at, written.birth_weight_basis, None),
            ("name", Identity(name=written.name), born_at, Basis.REPORTED, None),
        ]
        made += self._weights(key, infant, written, born_at)
        made += self._counts(written)
        made += self._feeds(key, infant, written, born_at)
        made += self._rest(written)
        place = f"{key}/{infant.position}"
        return [
            self._entry(place, name, fact, at, infant=infant.id, basis=basis, device=device)
            for name, fact, at, basis, device in made
            if at <= self._now
        ]

    def _birth(self, written: WrittenInfant) -> Birth:
        gestation = None
        if written.gestation is not None:
            weeks, days = written.gestation.split("+")
            gestation = int(weeks) * DAYS_PER_WEEK + int(days)
        return Birth(
            zone=self._zone,
            sex=written.sex,
            gestation_days=gestation,
            birth_weight_g=written.birth_weight_g,
            mode=written.mode,
            intrapartum_fluids_ml=written.fluids_ml,
            multiple=written.multiple or (1 if written.sex else None),
        )

    def _born_at(self, written: WrittenInfant) -> datetime:
        if written.born is not None:
            return last_clock_change(self._now, self._zone) - BEFORE_THE_CLOCK_CHANGE
        hours = written.age_h if written.age_h is not None else _hours(written.age_d or 0.0)
        return self._ago(hours) + timedelta(minutes=written.born_after_min)

    def _weights(
        self, key: str, infant: Infant, written: WrittenInfant, born_at: datetime
    ) -> Iterator[tuple[str, AnyFact, datetime, Basis, str | None]]:
        for number, weight in enumerate(written.weights):
            hours = weight.age_h if weight.age_h is not None else _hours(weight.age_d or 0.0)
            clothing = None if weight.clothing == "not asked" else weight.clothing
            fact = Weight(weight_g=weight.g, clothing=clothing)
            at = born_at + timedelta(hours=hours)
            yield f"weight {number}", fact, at, weight.basis, weight.on
        course = written.course
        if course is not None and written.birth_weight_g is not None:
            for number, hours in enumerate(course.weigh_h):
                wobble = _fixed_deviation(f"{key}/{infant.position}/course {number}", 1.0) * 25
                grams = round(_on_course(course, written.birth_weight_g, hours) + wobble, -1)
                fact = Weight(weight_g=grams, clothing="naked")
                at = born_at + timedelta(hours=hours)
                yield f"course {number}", fact, at, Basis.MEASURED, course.on
        for number, size in enumerate(written.sizes):
            fact_of_size = Size(length_cm=size.length_cm, head_cm=size.head_cm)
            at = born_at + timedelta(days=size.age_d)
            yield f"size {number}", fact_of_size, at, Basis.MEASURED, None

    def _counts(
        self, written: WrittenInfant
    ) -> Iterator[tuple[str, AnyFact, datetime, Basis, str | None]]:
        for number, wet in enumerate(written.wets):
            yield f"wet {number}", Wet(count=wet.count, over_h=wet.over_h), *self._seen(wet)
        for number, stool in enumerate(written.stools):
            fact = Stool(
                count=stool.count, over_h=stool.over_h, colour=stool.colour, amount=stool.amount
            )
            yield f"stool {number}", fact, *self._seen(stool)

    def _seen(self, count: WrittenCount) -> tuple[datetime, Basis, None]:
        return self._ago(count.ago_h), count.basis, None

    def _feeds(
        self, key: str, infant: Infant, written: WrittenInfant, born_at: datetime
    ) -> Iterator[tuple[str, AnyFact, datetime, Basis, str | None]]:
        for number, feed in enumerate(written.feeds):
            fact = Feed(milk=feed.milk, side=feed.side, minutes=feed.minutes, volume_ml=feed.ml)
            yield f"feed {number}", fact, self._ago(feed.ago_h), Basis.OBSERVED, None
        for number, daily in enumerate(written.daily_feeds):
            place = f"{key}/{infant.position}/daily {number}"
            for count, (age_h, volume_ml) in enumerate(_spread(daily, place)):
                fact = Feed(milk=daily.milk, volume_ml=volume_ml)
                at = born_at + timedelta(hours=age_h)
                yield f"daily {number}/{count}", fact, at, Basis.MEASURED, None

    def _rest(
        self, written: WrittenInfant
    ) -> Iterator[tuple[str, AnyFact, datetime, Basis, str | None]]:
        measured, reported = Basis.MEASURED, Basis.REPORTED
        for number, taken in enumerate(written.temperatures):
            fact: AnyFact = Temperature(temperature_c=taken.c, site=taken.site)
            yield f"temperature {number}", fact, self._ago(taken.ago_h), measured, None
        for number, test in enumerate(written.test_weights):
            fact = TestWeight(
                before_g=test.before,
                after_g=test.after,
                minutes=test.minutes,
                same_clothes=test.same_clothes,
            )
            yield f"test weight {number}", fact, self._ago(test.ago_h), measured, "clinic scale"
        for number, illness in enumerate(written.illnesses):
            fact = Illness(what=illness.what)
            yield f"illness {number}", fact, self._ago(illness.ago_h), reported, None
        for number, seen in enumerate(written.signs):
            sign = self._sign(seen)
            yield f"sign {number}", sign, self._ago(seen.ago_h), Basis.OBSERVED, None
        for number, note in enumerate(written.notes):
            yield f"note {number}", Note(text=note.text), self._ago(note.ago_h), reported, None
        for name, fact, ago_h in self._in_care(written):
            yield name, fact, self._ago(ago_h), reported, None

    def _sign(self, seen: WrittenSign) -> Sign:
        since = None if seen.began_ago_h is None else self._ago(seen.began_ago_h)
        return Sign(sign=seen.sign, present=seen.present, since=since)

    def _in_care(
        self, written: WrittenInfant | WrittenFamily
    ) -> Iterator[tuple[str, AnyFact, float]]:
        for number, handed in enumerate(written.handovers):
            by = None if handed.answer_in_h is None else self._ago(-handed.answer_in_h)
            fact: AnyFact = Handover(
                to=handed.to,
                name=handed.name,
                how=handed.how,
                asked=handed.asked,
                flag=handed.flag,
                answer_by=by,
            )
            yield f"handover {number}", fact, handed.ago_h
        for number, answer in enumerate(written.answers):
            fact = Answer(who=answer.who, found=answer.found, flag=answer.flag)
            yield f"answer {number}", fact, answer.ago_h
        for number, one in enumerate(written.known):
            fact = Known(
                flag=one.flag, who=one.who, name=one.name, next_at=self._ago(-one.next_in_h)
            )
            yield f"known {number}", fact, one.ago_h

    def _ago(self, hours: float) -> datetime:
        return self._now - timedelta(minutes=round(hours * 60))

    def _entry(
        self,
        place: str,
        name: str,
        fact: AnyFact,
        at: datetime,
        *,
        infant: UUID | None = None,
        basis: Basis = Basis.REPORTED,
        device: str | None = None,
    ) -> Entry:
        true_at = at.replace(second=0, microsecond=0)
        return Entry(
            id=uuid5(NAMESPACE, f"{place}/{name}"),
            fact=fact,
            basis=basis,
            true_at=true_at,
            entered_at=min(true_at + ENTERED_LATER, self._now),
            entered_by=self._entered_by,
            infant_id=infant,
            device=device,
        )


def last_clock_change(now: datetime, zone: str) -> datetime:
    """The latest instant before `now` at which the zone's offset changed, to the minute.

    Where clocks never change, the start of the search, some 300 days back.
    """
    place = ZoneInfo(zone)
    late = now.astimezone(UTC)
    for _ in range(300):
        early = late - timedelta(days=1)
        if early.astimezone(place).utcoffset() != late.astimezone(place).utcoffset():
            break
        late = early
    else:
        return late
    offset = late.astimezone(place).utcoffset()
    while late - early > timedelta(minutes=1):
        middle = early + (late - early) / 2
        if middle.astimezone(place).utcoffset() == offset:
            late = middle
        else:
            early = middle
    return late.replace(second=0, microsecond=0)


def _hours(days: float) -> float:
    return days * HOURS_PER_DAY


def _fixed_deviation(place: str, size: float) -> float:
    """A fixed number between -size and size that belongs to a place in the scenario."""
    digest = hashlib.sha256(place.encode()).digest()
    return size * (int.from_bytes(digest[:4], "big") / 2**31 - 1)


def _spread(daily: WrittenDailyFeeds, place: str) -> Iterator[tuple[float, float]]:
    """(age in h, mL) of each feed, with small wobbles of time and volume."""
    gap_h = HOURS_PER_DAY / daily.times
    age_h = _hours(daily.from_d)
    number = 0
    while age_h < _hours(daily.to_d):
        volume = daily.ml * (1 + _fixed_deviation(f"{place}/{number}/mL", 0.15))
        yield age_h + _fixed_deviation(f"{place}/{number}/h", 0.3), round(volume)
        age_h += gap_h
        number += 1


def _on_course(course: WrittenCourse, birth_weight_g: float, age_h: float) -> float:
    """The weight of a course at an age, without wobble."""
    lowest = birth_weight_g * (1 - course.nadir_percent / 100)
    if age_h <= course.nadir_h:
        return birth_weight_g + (lowest - birth_weight_g) * age_h / course.nadir_h
    weight = lowest
    starts = [max(start * HOURS_PER_DAY, course.nadir_h) for start, _ in course.gains]
    for number, (_, gain) in enumerate(course.gains):
        end = starts[number + 1] if number + 1 < len(starts) else age_h
        weight += gain * max(0.0, min(age_h, end) - starts[number]) / HOURS_PER_DAY
    return weight
