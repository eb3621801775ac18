"""Bilirubin that was measured, against the lines of its age, for the table of flags.

A value stands until a physician has answered. One at or above a line stands whatever is measured
later; of those below the lines the latest counts. A value that has fallen since one that a physician
answered is nothing new while it is below the line for light, or the infant is under light.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, measure, sign
from suffice.assess.rules.table import Measure, Sign
from suffice.assess.rules.truth import Truth, truth_of
from suffice.clinical.bilirubin import BilirubinLimits, clearly_below, treatment_line
from suffice.clinical.entry import Bilirubin, Entry
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Quantity
from suffice.message import Age, Amount, Instant, Param, message

JAUNDICE: Final = ("jaundice", "jaundice_palms")
"""Signs that bilirubin was measured for."""
BLOOD_TOO: Final = message("Read through the skin: a blood value decides.")

RISES: Final = message("At this pace it reaches the line within a day.")


class Value(NamedTuple):
    """One bilirubin value.

    Attributes:
        entry: The entry.
        fact: What was measured.
        age_h: Age when it was measured; None where the instant of birth is not known.
        light: The line for treatment with light at that age; None likewise.
        exchange: The line for exchange transfusion.
    """

    entry: Entry
    fact: Bilirubin
    age_h: float | None
    light: Figure | None
    exchange: Figure | None

    @property
    def umol_per_l(self) -> float:
        """In µmol/L."""
        return self.fact.bilirubin_umol_per_l

    def over(self, line: Figure | None) -> float:
        """How far it lies above a line, in µmol/L; without a line, at it."""
        return 0.0 if line is None else self.umol_per_l - line.value

    @property
    def is_below(self) -> bool:
        """Whether it is known to be below the line for light."""
        return self.light is not None and self.over(self.light) < 0

    def gaps(self, line: Figure | None = None) -> dict[str, Param]:
        """What fills a sentence: the value, its age and instant, and a line."""
        at = Instant(self.entry.true_at)
        gaps: dict[str, Param] = {"bilirubin": Amount(self.umol_per_l, "umol/L"), "at": at}
        age = message("{age} ({when})", age=Age(self.age_h or 0.0), when=at)
        gaps["when"] = at if self.age_h is None else age
        if line is not None:
            gaps["line"] = Amount(line.value, line.unit)
        return gaps


def review_bilirubin(
    case: Case, parameters: CareParameters, jaundice: Mapping[str, Sign]
) -> Iterator[Reviewed]:
    """What stands of the bilirubin values, and whether one speaks for the jaundice that was noted.

    Args:
        case: The infant.
        parameters: The content's parameters.
        jaundice: The signs that were entered, by key.
    """
    limits = parameters.bilirubin
    values = values_of(case, limits)
    noted = _noted_at(jaundice, case)
    yield sign("bilirubin_since_jaundice", _speaks_for(values, noted, limits))
    if not values:
        return
    last = values[-1]
    yield _under_light(values, case)
    yield from _after_light(values, case, limits)
    open_ = [one for place, one in enumerate(values) if _is_open(place, values, case)]
    lines = ((one, one.over(one.exchange), one.exchange) for one in open_ if one.exchange)
    yield from _worst("bilirubin_over_exchange_line_umol_per_l", lines)
    lines = ((one, one.over(one.light), one.light) for one in open_ if one.light)
    yield from _worst("bilirubin_over_light_line_umol_per_l", lines)
    if last in open_:
        yield from _latest(last, case, limits, rises=_reaches_its_line(values, case, limits))


def values_of(case: Case, limits: BilirubinLimits) -> tuple[Value, ...]:
    """All bilirubin values in order of time, each with the lines of its age."""
    gestation = case.birth.gestation_days if case.birth else None
    found: list[Value] = []
    for entry, fact in case.facts(Bilirubin):
        age_h = case.age_at(entry.true_at)
        light = exchange = None
        if age_h is not None:
            light = treatment_line(age_h, gestation, limits, "light")
            exchange = treatment_line(age_h, gestation, limits, "exchange")
        found.append(Value(entry, fact, age_h, light, exchange))
    return tuple(found)


def with_bilirubin(
    seen: Mapping[str, Sign], case: Case, limits: BilirubinLimits
) -> dict[str, Sign]:
    """The signs, where each jaundice that a value speaks for names that value."""
    values = values_of(case, limits)
    if not values or not _speaks_for(values, _noted_at(seen, case), limits):
        return dict(seen)
    last = values[-1]
    gaps = last.gaps()
    sentence = message("Bilirubin {value}, {when}.", value=gaps["bilirubin"], when=gaps["when"])
    return {
        key: msgspec.structs.replace(one, says=(*one.says, sentence))
        if key in JAUNDICE and one.present is Truth.TRUE
        else one
        for key, one in seen.items()
    }


def _noted_at(seen: Mapping[str, Sign], case: Case) -> datetime | None:
    """When jaundice was last noted; None where it was not."""
    entry_ids = {
        one
        for key in JAUNDICE
        if key in seen and seen[key].present is Truth.TRUE
        for one in seen[key].entry_ids
    }
    if not entry_ids:
        return None
    return max((one.true_at for one in case.entries if one.id in entry_ids), default=None)


def _speaks_for(
    values: Sequence[Value], noted_at: datetime | None, limits: BilirubinLimits
) -> bool:
    """Whether the latest value is of the day before jaundice was last noted, or later."""
    if not values:
        return False
    stands = timedelta(hours=limits.stands_h.value)
    return noted_at is None or values[-1].entry.true_at >= noted_at - stands


def _is_open(place: int, values: Sequence[Value], case: Case) -> bool:
    """Whether a physician has still to read a value."""
    one = values[place]
    if case.answers.cover(one.entry.id):
        return False
    is_settled = one.is_below or one.fact.under_light is True
    return not (is_settled and _has_fallen(place, values, case))


def _has_fallen(place: int, values: Sequence[Value], case: Case) -> bool:
    """Whether a value is no higher than the one before it that a physician has answered."""
    answered = [one for one in values[:place] if case.answers.cover(one.entry.id)]
    return bool(answered) and values[place].umol_per_l <= answered[-1].umol_per_l


def _worst(name: str, over: Iterator[tuple[Value, float, Figure]]) -> Iterator[Reviewed]:
    """The value that lies furthest above a line; of equals the later one."""
    every = sorted(over, key=lambda one: (one[1], one[0].entry.true_at))
    for one, above, line in every[-1:]:
        value = Quantity(name=message("bilirubin"), value=one.umol_per_l, unit="umol/L")
        working = msgspec.structs.replace(
            line.working,
            formula=message("bilirubin less the {line}", line=line.working.formula),
            inputs=(value, *line.working.inputs),
        )
        found = Measure(
            value=above,
            age_h=one.age_h or 0.0,
            at=one.entry.true_at,
            figure=Figure(value=above, unit="umol/L", working=working),
            entry_ids=(one.entry.id,),
            gaps=tuple(one.gaps(line).items()),
            says=(BLOOD_TOO,) if one.fact.method == "skin" else (),
        )
        yield measure(name, found)


def _reaches_its_line(values: Sequence[Value], case: Case, limits: BilirubinLimits) -> bool:
    """Whether the latest value would reach the line for light within a day, at its pace since one measured alike."""
    last = values[-1]
    if last.age_h is None:
        return False
    from_h, until_h = limits.pace_from_h.value, limits.pace_until_h.value
    alike = [
        (one, last.age_h - one.age_h)
        for one in values[:-1]
        if one.age_h is not None and one.fact.method == last.fact.method
    ]
    earlier = [(one, hours) for one, hours in alike if from_h <= hours <= until_h]
    if not earlier:
        return False
    before, hours = earlier[-1]
    ahead_h = limits.ahead_h.value
    gestation = case.birth.gestation_days if case.birth else None
    line = treatment_line(last.age_h + ahead_h, gestation, limits, "light")
    pace = (last.umol_per_l - before.umol_per_l) / hours
    return pace > 0 and last.umol_per_l + pace * ahead_h >= line.value


def _latest(last: Value, case: Case, limits: BilirubinLimits, *, rises: bool) -> Iterator[Reviewed]:
    """Whether the latest value is of the first day, is clearly below its line, or is to be read.

    Args:
        last: The value.
        case: The infant.
        limits: How far below its line a value must be.
        rises: Whether it would reach its line within a day.
    """
    birth = case.birth
    margin = clearly_below(birth.gestation_days if birth else None, limits)
    is_first_day = last.age_h is not None and last.age_h < HOURS_PER_DAY
    is_clear = last.light is not None and last.over(last.light) < -margin.value and not rises
    for name, is_so in (
        ("bilirubin_of_first_day", is_first_day),
        ("bilirubin_clearly_below_line", is_clear and not is_first_day),
        ("bilirubin_to_be_read", not is_clear and not is_first_day),
    ):
        found = _sign_of(last, is_so=is_so, line=last.light)
        says = (BLOOD_TOO,) if last.fact.method == "skin" and not is_clear else ()
        says = (RISES, *says) if rises else says
        found = msgspec.structs.replace(found, says=says, degree=last.over(last.light))
        yield Reviewed(signs={name: (found,)})


def _sign_of(value: Value, *, is_so: bool, line: Figure | None = None) -> Sign:
    """Something that a value says, at the age at which it was measured."""
    return Sign(
        present=truth_of(is_so),
        age_h=value.age_h or 0.0,
        at=value.entry.true_at,
        entry_ids=(value.entry.id,),
        gaps=tuple(value.gaps(line).items()),
        working=line.working if line else None,
    )


def _under_light(values: Sequence[Value], case: Case) -> Reviewed:
    """Whether the infant is under light: until a value without it, or an answer that names the flag."""
    answered = [one for one in values if one.fact.under_light is not None]
    if not answered or not answered[-1].fact.under_light:
        return sign("under_light_treatment", False)  # noqa: FBT003  # the finding itself
    last = answered[-1]
    found = _sign_of(last, is_so=not case.answers.cover_by_name(last.entry.id))
    found = msgspec.structs.replace(found, is_answered=False)
    return Reviewed(signs={"under_light_treatment": (found,)})


def _after_light(
    values: Sequence[Value], case: Case, limits: BilirubinLimits
) -> Iterator[Reviewed]:
    """Whether light treatment has ended and no value is old enough to show that bilirubin stays low, not answered."""
    lit = [place for place, one in enumerate(values) if one.fact.under_light is True]
    after = values[lit[-1] + 1 :] if lit else ()
    if not after:
        return
    first = after[0]
    from_at = first.entry.true_at + timedelta(hours=limits.rebound_from_h.value)
    is_measured = any(one.entry.true_at >= from_at for one in after)
    is_answered = case.answers.cover(first.entry.id)
    found = _sign_of(first, is_so=not is_measured and not is_answered)
    yield Reviewed(signs={"light_ended_not_measured": (found,)})
