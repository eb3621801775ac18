"""Whether what was entered can be, and whether it is likely.

Impossible values are refused (``doubtful`` False); unlikely ones are asked about (``doubtful``
True) with the slip that would explain them. Nothing is changed. Limits come from the content
store: beyond *refused* is impossible, between *doubtful* and *refused* is unlikely.

:func:`check_entry` is the way in; it looks at one entry against those that stand.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple
from uuid import UUID

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import (
    AnyFact,
    Birth,
    Contact,
    Entry,
    ParentDay,
    Stool,
    TestWeight,
    Weight,
    Wet,
)
from suffice.clinical.entry.field import Counted, Measured, Moment, fields_of
from suffice.clinical.parent_day import parent_day_problems
from suffice.clinical.plausibility_limits import CLOTHES_G, PlausibilityLimits
from suffice.clinical.units import HOURS_PER_DAY, c_from_f
from suffice.clinical.weight.check import (
    Previous,
    check_weight,
    slip_words,
    weight_at_any_age,
    weight_by_age,
)
from suffice.clinical.weight.slip import likely_slips
from suffice.clinical.working import Constant
from suffice.clinical.zone import is_zone
from suffice.errors import Problem
from suffice.message import Instant, Message, Number, Words, dated, joined, message


class WeightBefore(NamedTuple):
    """A weight of the record, in g, and in what it was taken; None where nobody says."""

    at: datetime
    weight_g: float
    clothing: str | None


class Beside:
    """The entries of a family that stand, by infant: made once where many of them are checked.

    Without it each check would walk through all of them, and a file of some thousand would take
    minutes.
    """

    def __init__(self, current: Sequence[Entry]) -> None:
        self._births: dict[UUID | None, list[Entry]] = {}
        self._weights: dict[UUID | None, list[tuple[datetime, float, UUID, str | None]]] = {}
        for one in current:
            if isinstance(one.fact, Birth):
                self._births.setdefault(one.infant_id, []).append(one)
            elif isinstance(one.fact, Weight):
                weight = (one.true_at, one.fact.weight_g, one.id, one.fact.clothing)
                self._weights.setdefault(one.infant_id, []).append(weight)
        for weights in self._weights.values():
            weights.sort(key=lambda one: one[:3])

    def birth(self, entry: Entry) -> Entry | None:
        """The latest birth of the entry's infant that is neither this entry nor replaced by it."""
        births = reversed(self._births.get(entry.infant_id, ()))
        return next((one for one in births if one.id not in (entry.id, entry.replaces)), None)

    def weight_before(self, entry: Entry) -> WeightBefore | None:
        """The last weight of the entry's infant before it; the heavier of two at one time."""
        weights = self._weights.get(entry.infant_id, [])
        at = bisect_left(weights, entry.true_at, key=lambda one: one[0])
        while at > 0:
            at -= 1
            when, weight_g, own, clothing = weights[at]
            if own != entry.replaces:
                return WeightBefore(when, weight_g, clothing)
        return None


def check_entry(
    entry: Entry, current: Sequence[Entry] | Beside, limits: PlausibilityLimits
) -> tuple[Problem, ...]:
    """Everything impossible or doubtful about one entry.

    Args:
        entry: The entry to check; `current` may hold it, and what it replaces is left out.
        current: Entries of the family that stand.
        limits: Of the content store.

    Returns:
        Problems with `where` naming the field; impossible ones first. Empty when nothing is odd.
    """
    beside = current if isinstance(current, Beside) else Beside(current)
    birth = beside.birth(entry)
    fact = entry.fact
    found = [*_time_problems(entry, birth, limits), *_past_problems(entry)]
    if isinstance(fact, Birth):
        found += [*_second_birth(birth), *_birth_problems(fact, limits)]
    elif isinstance(fact, Contact):
        found += _contact_problems(entry, fact)
    elif isinstance(fact, Weight):
        found += _weight_entry_problems(entry, fact, beside, birth, limits)
    elif isinstance(fact, TestWeight):
        found += _test_weight_problems(entry, fact, birth, limits)
    elif isinstance(fact, Wet | Stool):
        found += _output_problems(fact, limits)
    else:
        found += _declared_problems(fact, limits)
    if isinstance(fact, ParentDay):
        found += parent_day_problems(fact)
    return tuple(sorted(found, key=lambda problem: problem.doubtful))


def _weight_entry_problems(
    entry: Entry,
    fact: Weight,
    beside: Beside,
    birth: Entry | None,
    limits: PlausibilityLimits,
) -> tuple[Problem, ...]:
    """A weight entry in its place among the infant's weights."""
    if birth is None or entry.true_at < birth.true_at:  # said once, by the time check
        return tuple(weight_at_any_age(fact.weight_g, limits))
    facts = birth.fact
    birth_weight_g = facts.birth_weight_g if isinstance(facts, Birth) else None
    weighed = beside.weight_before(entry)
    earlier = [] if weighed is None else [weighed]
    if birth_weight_g is not None:
        earlier.append(WeightBefore(birth.true_at, birth_weight_g, "naked"))
    last = max(earlier, default=None, key=lambda one: (one.at, one.weight_g))
    return check_weight(
        fact.weight_g,
        elapsed_h(birth.true_at, entry.true_at),
        limits,
        previous=None
        if last is None
        else Previous(
            last.weight_g,
            elapsed_h(birth.true_at, last.at),
            _clothes_g(last.clothing, fact.clothing, limits),
        ),
        birth_weight_g=birth_weight_g,
    )


def _clothes_g(before: str | None, now: str | None, limits: PlausibilityLimits) -> float:
    """What clothes weigh that were taken off between two weights; negative where they were put on."""
    clothes = limits.constant(CLOTHES_G)
    if clothes is None or before is None or now is None:
        return 0.0
    return clothes.value * ((before == "clothed") - (now == "clothed"))


def _second_birth(birth: Entry | None) -> list[Problem]:
    """A birth beside another one of the same infant."""
    if birth is None:
        return []
    return [
        Problem(
            code="BIRTH-009",
            what=message("A second birth of this infant."),
            why=message(
                "It was born at {at}, and an infant is born once.",
                at=Instant(birth.true_at, year=True),
            ),
            fix=message("Correct the birth facts that are there, or choose the other infant."),
            where="true_at",
        )
    ]


def _contact_problems(entry: Entry, fact: Contact) -> list[Problem]:
    """The next contact against this one."""
    if fact.next_due_at is None or fact.next_due_at > entry.true_at:
        return []
    return [
        Problem(
            code="CONTACT-001",
            what=dated(fact.next_due_at),
            why=message("is not after this contact, so the family would be overdue at once."),
            fix=message("Correct or confirm it."),
            where="next_due_at",
            doubtful=True,
        )
    ]


def _past_problems(entry: Entry) -> list[Problem]:
    """Instants of the fact that cannot lie after the entry's own."""
    return [
        Problem(
            code="TIME-004",
            what=dated(getattr(entry.fact, name)),
            why=message(
                "is after this entry, which is about {at}.", at=Instant(entry.true_at, year=True)
            ),
            fix=message("Correct one of the two times."),
            where=name,
        )
        for name, field in fields_of(type(entry.fact)).items()
        if isinstance(field, Moment) and field.is_past
        if (getattr(entry.fact, name) or entry.true_at) > entry.true_at
    ]


def _time_problems(
    entry: Entry, birth: Entry | None, limits: PlausibilityLimits
) -> tuple[Problem, ...]:
    """When it is said to have been true."""
    ahead = elapsed_h(entry.entered_at, entry.true_at)
    if ahead > limits.future_refused_h.value:
        return (
            Problem(
                code="TIME-001",
                what=dated(entry.true_at),
                why=message(
                    "is still to come: it is entered at {at}.",
                    at=Instant(entry.entered_at, year=True),
                ),
                fix=message("Correct the date or the time."),
                where="true_at",
            ),
        )
    if birth is not None and not isinstance(entry.fact, Birth):
        before = elapsed_h(entry.true_at, birth.true_at)
        to_come = elapsed_h(birth.entered_at, birth.true_at) > limits.future_refused_h.value
        if before > 0 and not to_come:  # a birth still to come is asked about at the birth itself
            return (
                Problem(
                    code="TIME-002",
                    what=dated(entry.true_at),
                    why=message("is {before} h before birth.", before=Number(before, 1)),
                    fix=message("Correct the time of this entry, or the time of birth."),
                    where="true_at",
                ),
            )
    if -ahead > limits.entered_late_doubtful_d.value * HOURS_PER_DAY:
        return (
            Problem(
                code="TIME-003",
                what=dated(entry.true_at),
                why=message(
                    "is more than {value} days ago.",
                    value=Number(limits.entered_late_doubtful_d.value),
                ),
                fix=message("Is the year right? Correct or confirm it."),
                where="true_at",
                doubtful=True,
            ),
        )
    return ()


def _birth_problems(fact: Birth, limits: PlausibilityLimits) -> list[Problem]:
    """Birth facts, each value by itself."""
    found: list[Problem] = []
    if not is_zone(fact.zone):
        found.append(
            Problem(
                code="BIRTH-010",
                what=f"'{fact.zone}'",
                why=message("is not an IANA time zone, so the local time of birth is not known."),
                fix=message("Name one such as Europe/Madrid or America/Chicago."),
                where="zone",
            )
        )
    return found + _declared_problems(fact, limits)


def _test_weight_problems(
    entry: Entry, fact: TestWeight, birth: Entry | None, limits: PlausibilityLimits
) -> list[Problem]:
    """Both weights for the age, and their difference."""
    found: list[Problem] = []
    hours = None if birth is None else elapsed_h(birth.true_at, entry.true_at)
    for weight_g, where in ((fact.before_g, "before_g"), (fact.after_g, "after_g")):
        if hours is not None and hours >= 0:
            problems = weight_by_age(weight_g, hours, limits)
        else:
            problems = weight_at_any_age(weight_g, limits)
        found += [one.at(where) for one in problems]
    found += _range(
        fact.after_g - fact.before_g,
        message("g between the weights"),
        "after_g",
        ("TEST-006", "TEST-007"),
        low=(
            limits.test_weight_transfer_refused_low_g,
            limits.test_weight_transfer_doubtful_low_g,
        ),
        high=(
            limits.test_weight_transfer_doubtful_high_g,
            limits.test_weight_transfer_refused_high_g,
        ),
        least=None,
    )
    return found + _declared_problems(fact, limits)


def _declared_problems(fact: AnyFact, limits: PlausibilityLimits) -> list[Problem]:
    """Every field whose limits are declared, by itself."""
    found: list[Problem] = []
    for name, field in fields_of(type(fact)).items():
        value = getattr(fact, name)
        declared = field.limits if isinstance(field, Measured | Counted) else None
        if declared is None or value is None:
            continue
        high = _pair(declared.high, limits)
        low = None if declared.low is None else _pair(declared.low, limits)
        if high is None:
            continue
        found += _range(
            value,
            declared.unit or (field.sign if isinstance(field, Measured) else ""),
            name,
            declared.codes,
            high=high,
            low=low,
            least=declared.least,
            hint=_hint(declared.slip, value, low, high),
        )
    return found


def _pair(keys: tuple[str, str], limits: PlausibilityLimits) -> tuple[Constant, Constant] | None:
    """Two limits; None where a content set of the past has none."""
    one, other = limits.constant(keys[0]), limits.constant(keys[1])
    return None if one is None or other is None else (one, other)


def _hint(
    slip: str,
    value: float,
    low: tuple[Constant, Constant] | None,
    high: tuple[Constant, Constant],
) -> Words:
    """The question whether a usual slip explains the value; empty where it explains nothing."""
    if low is None or not slip or not math.isfinite(value):
        return ""
    usual_low, usual_high = low[1].value, high[0].value
    if slip == "digits":
        return slip_words(likely_slips(value, lambda one: usual_low <= one <= usual_high)[:1])
    meant_c = float(c_from_f(Decimal(str(value))))
    is_usual = usual_low <= meant_c <= usual_high
    perhaps = message("Perhaps °F taken for °C: {value} °C?", value=Number(meant_c, 1))
    return perhaps if is_usual else ""


def _output_problems(fact: Wet | Stool, limits: PlausibilityLimits) -> list[Problem]:
    """A count of diapers, brought to a day where it speaks of more than one."""
    is_wet = isinstance(fact, Wet)
    days = max(1.0, (fact.over_h or 0.0) / HOURS_PER_DAY)
    found = _range(
        fact.count / days,
        message("wets in a day") if is_wet else message("stools in a day"),
        "count",
        ("OUTPUT-001", "OUTPUT-002"),
        high=(limits.wets_doubtful_high_count_per_day, limits.wets_refused_high_count_per_day)
        if is_wet
        else (limits.stools_doubtful_high_count_per_day, limits.stools_refused_high_count_per_day),
    )
    if fact.over_h is not None and fact.over_h < 0:
        found.append(
            _refused(
                "OUTPUT-001", fact.over_h, message("h"), "over_h", message("cannot be negative.")
            )
        )
    return found


def _range(
    value: float,
    unit: Words,
    where: str,
    codes: tuple[str, str],
    *,
    high: tuple[Constant, Constant],
    low: tuple[Constant, Constant] | None = None,
    least: float | None = 0,
    hint: Words = "",
) -> list[Problem]:
    """A value against (refused, doubtful) below and (doubtful, refused) above; at most one.

    `least` is the lowest that is refused where there is no pair of low limits.
    """
    doubtful_high, refused_high = high[0].value, high[1].value
    refused_low = least if low is None else low[0].value
    doubtful_low = least if low is None else low[1].value
    too_low = refused_low is not None and value < refused_low
    if too_low or value > refused_high or not math.isfinite(value):
        edge = _edge(refused_low, refused_high)
        return [
            _refused(
                codes[0],
                value,
                unit,
                where,
                message("cannot be; possible is {edge}.", edge=edge),
                hint,
            )
        ]
    if value > doubtful_high or (doubtful_low is not None and value < doubtful_low):
        return [
            Problem(
                code=codes[1],
                what=message("{value} {unit}", value=Number(value), unit=unit),
                why=message(
                    "is unusual; usual is {edge}.", edge=_edge(doubtful_low, doubtful_high)
                ),
                fix=joined(hint, message("Correct or confirm it.")),
                where=where,
                doubtful=True,
            )
        ]
    return []


def _refused(
    code: str, value: float, unit: Words, where: str, why: Message, hint: Words = ""
) -> Problem:
    return Problem(
        code=code,
        what=message("{value} {unit}", value=Number(value), unit=unit),
        why=why,
        fix=joined(hint, message("Correct it.")),
        where=where,
    )


def _edge(low: float | None, high: float) -> Message:
    if low is None:
        return message("up to {high}", high=Number(high))
    return message("{low} to {high}", low=Number(low), high=Number(high))
