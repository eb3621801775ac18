"""Whether what was entered can be, and whether it is likely.

Impossible values are refused (``doubtful`` False); unlikely ones are asked about (``doubtful``
True) with the slip that would explain them. Nothing is changed. Limits come from the content
store: beyond *refused* is impossible, between *doubtful* and *refused* is unlikely.

:func:`check_entry` is the way in; it looks at one entry against those that stand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import (
    AnyFact,
    Birth,
    Contact,
    Entry,
    Expression,
    Feed,
    Size,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.clinical.units import HOURS_PER_DAY, c_from_f
from suffice.clinical.weight.check import check_weight, slip_words, weight_by_age
from suffice.clinical.weight.slip import likely_slips
from suffice.clinical.working import Constant
from suffice.errors import Problem
from suffice.message import Words, joined, message


def check_entry(
    entry: Entry, standing: Sequence[Entry], limits: PlausibilityLimits
) -> tuple[Problem, ...]:
    """Everything impossible or doubtful about one entry.

    Args:
        entry: The entry to check; `standing` may hold it, and what it replaces is left out.
        standing: Entries of the family that stand.
        limits: Of the content store.

    Returns:
        Problems with `where` naming the field; impossible ones first. Empty when nothing is odd.
    """
    others = [one for one in standing if one.id not in (entry.id, entry.replaces)]
    own = [one for one in others if one.infant_id == entry.infant_id]
    birth = next((one for one in reversed(own) if isinstance(one.fact, Birth)), None)
    fact = entry.fact
    births = [one.fact for one in (entry, *others) if isinstance(one.fact, Birth)]
    clock = _clock(births[0].zone if births else "")
    found = list(_time_problems(entry, birth, limits, clock))
    if isinstance(fact, Birth):
        found += [*_second_birth(birth, clock), *_birth_problems(fact, limits)]
    elif isinstance(fact, Contact):
        found += _contact_problems(entry, fact, clock)
    elif isinstance(fact, Weight):
        found += _weight_entry_problems(entry, fact, own, birth, limits)
    elif isinstance(fact, TestWeight):
        found += _test_weight_problems(entry, fact, birth, limits)
    else:
        found += _other_problems(fact, limits)
    return tuple(sorted(found, key=lambda problem: problem.doubtful))


def _weight_entry_problems(
    entry: Entry,
    fact: Weight,
    own: Sequence[Entry],
    birth: Entry | None,
    limits: PlausibilityLimits,
) -> tuple[Problem, ...]:
    """A weight entry in its place among the infant's weights."""
    if birth is None:
        return ()
    hours = elapsed_h(birth.true_at, entry.true_at)
    if hours < 0:
        return ()  # said once, by the time check
    facts = birth.fact
    birth_weight_g = facts.birth_weight_g if isinstance(facts, Birth) else None
    earlier = [
        (one.true_at, one.fact.weight_g)
        for one in own
        if isinstance(one.fact, Weight) and one.true_at < entry.true_at
    ]
    if birth_weight_g is not None:
        earlier.append((birth.true_at, birth_weight_g))
    last = max(earlier, default=None)
    return check_weight(
        fact.weight_g,
        hours,
        limits,
        previous_g=None if last is None else last[1],
        previous_age_h=None if last is None else elapsed_h(birth.true_at, last[0]),
        birth_weight_g=birth_weight_g,
    )


def _clock(zone: str) -> ZoneInfo:
    """The clock by which times are said: that of the birth, or UTC where none is known."""
    try:
        return ZoneInfo(zone or "UTC")
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return ZoneInfo("UTC")


def _is_zone(zone: str) -> bool:
    return zone == "UTC" or _clock(zone).key != "UTC"


def _said(instant: datetime, clock: ZoneInfo) -> str:
    return f"{instant.astimezone(clock):%Y-%m-%d %H:%M %Z}"


def _second_birth(birth: Entry | None, clock: ZoneInfo) -> list[Problem]:
    """A birth beside another one of the same infant."""
    if birth is None:
        return []
    return [
        Problem(
            code="BIRTH-009",
            what="A second birth of this infant.",
            why=f"It was born at {_said(birth.true_at, clock)}, and an infant is born once.",
            fix="Correct the birth facts that are there, or choose the other infant.",
            where="true_at",
        )
    ]


def _contact_problems(entry: Entry, fact: Contact, clock: ZoneInfo) -> list[Problem]:
    """The next contact against this one."""
    if fact.next_due_at is None or fact.next_due_at > entry.true_at:
        return []
    return [
        Problem(
            code="CONTACT-001",
            what=_said(fact.next_due_at, clock),
            why="is not after this contact, so the family would be overdue at once.",
            fix="Correct or confirm it.",
            where="next_due_at",
            doubtful=True,
        )
    ]


def _time_problems(
    entry: Entry, birth: Entry | None, limits: PlausibilityLimits, clock: ZoneInfo
) -> tuple[Problem, ...]:
    """When it is said to have been true."""
    ahead = elapsed_h(entry.entered_at, entry.true_at)
    if ahead > limits.future_refused_h.value:
        return (
            Problem(
                code="TIME-001",
                what=_said(entry.true_at, clock),
                why=f"is still to come: it is entered at {_said(entry.entered_at, clock)}.",
                fix="Correct the date or the time.",
                where="true_at",
            ),
        )
    if birth is not None and not isinstance(entry.fact, Birth):
        before = elapsed_h(entry.true_at, birth.true_at)
        to_come = elapsed_h(birth.entered_at, birth.true_at) > limits.future_refused_h.value
        if before > 0 and not to_come:  # a birth still to come is told of at the birth itself
            return (
                Problem(
                    code="TIME-002",
                    what=_said(entry.true_at, clock),
                    why=f"is {before:.1f} h before birth.",
                    fix="Correct the time of this entry, or the instant of birth.",
                    where="true_at",
                ),
            )
    if -ahead > limits.entered_late_doubtful_d.value * HOURS_PER_DAY:
        return (
            Problem(
                code="TIME-003",
                what=f"{entry.true_at:%Y-%m-%d}",
                why=f"is more than {limits.entered_late_doubtful_d.value:g} days ago.",
                fix="Is the year right? Correct or confirm it.",
                where="true_at",
                doubtful=True,
            ),
        )
    return ()


def _birth_problems(fact: Birth, limits: PlausibilityLimits) -> list[Problem]:
    """Birth facts, each value by itself."""
    found: list[Problem] = []
    if not _is_zone(fact.zone):
        found.append(
            Problem(
                code="BIRTH-010",
                what=f"'{fact.zone}'",
                why="is not an IANA time zone, so the local time of birth is not known.",
                fix="Name one such as Europe/Madrid or America/Chicago.",
                where="zone",
            )
        )
    if fact.gestation_days is not None:
        found += _range(
            fact.gestation_days,
            "d of gestation",
            "gestation_days",
            ("BIRTH-001", "BIRTH-002"),
            low=(limits.gestation_refused_low_d, limits.gestation_doubtful_low_d),
            high=(limits.gestation_doubtful_high_d, limits.gestation_refused_high_d),
        )
    if fact.birth_weight_g is not None:
        low, high = (
            limits.birth_weight_doubtful_low_g.value,
            limits.birth_weight_doubtful_high_g.value,
        )
        slips = likely_slips(fact.birth_weight_g, lambda grams: low <= grams <= high)
        found += _range(
            fact.birth_weight_g,
            "g of birth weight",
            "birth_weight_g",
            ("BIRTH-003", "BIRTH-004"),
            low=(limits.birth_weight_refused_low_g, limits.birth_weight_doubtful_low_g),
            high=(limits.birth_weight_doubtful_high_g, limits.birth_weight_refused_high_g),
            hint=slip_words(slips[:1]),
        )
    if fact.intrapartum_fluids_ml is not None:
        found += _range(
            fact.intrapartum_fluids_ml,
            "mL of fluids",
            "intrapartum_fluids_ml",
            ("BIRTH-005", "BIRTH-006"),
            high=(limits.fluids_doubtful_high_ml, limits.fluids_refused_high_ml),
        )
    if fact.multiple is not None:
        found += _range(
            fact.multiple,
            "born together",
            "multiple",
            ("BIRTH-007", "BIRTH-008"),
            high=(limits.multiple_doubtful_count, limits.multiple_refused_count),
            least=1,
        )
    return found


def _test_weight_problems(
    entry: Entry, fact: TestWeight, birth: Entry | None, limits: PlausibilityLimits
) -> list[Problem]:
    """Both weights for the age, and their difference."""
    found: list[Problem] = []
    hours = None if birth is None else elapsed_h(birth.true_at, entry.true_at)
    if hours is not None and hours >= 0:
        for weight_g, where in ((fact.before_g, "before_g"), (fact.after_g, "after_g")):
            found += [one.at(where) for one in weight_by_age(weight_g, hours, limits)]
    found += _range(
        fact.after_g - fact.before_g,
        "g between the weights",
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
    if fact.minutes is not None:
        found += _feed_minutes(fact.minutes, limits)
    return found


def _feed_minutes(minutes: float, limits: PlausibilityLimits) -> list[Problem]:
    return _range(
        minutes,
        "min of feeding",
        "minutes",
        ("DURATION-001", "DURATION-002"),
        high=(limits.feed_doubtful_high_minutes, limits.feed_refused_high_minutes),
    )


def _other_problems(fact: AnyFact, limits: PlausibilityLimits) -> list[Problem]:
    """Facts that are judged by themselves."""
    found: list[Problem] = []
    if isinstance(fact, Temperature):
        found += _range(
            fact.temperature_c,
            "°C",
            "temperature_c",
            ("TEMPERATURE-001", "TEMPERATURE-002"),
            low=(limits.temperature_refused_low_c, limits.temperature_doubtful_low_c),
            high=(limits.temperature_doubtful_high_c, limits.temperature_refused_high_c),
            hint=_fahrenheit_slip(fact.temperature_c, limits),
        )
    elif isinstance(fact, Feed):
        if fact.volume_ml is not None:
            found += _range(
                fact.volume_ml,
                "mL in one feed",
                "volume_ml",
                ("VOLUME-001", "VOLUME-002"),
                high=(limits.feed_volume_doubtful_high_ml, limits.feed_volume_refused_high_ml),
            )
        if fact.minutes is not None:
            found += _feed_minutes(fact.minutes, limits)
    elif isinstance(fact, Expression):
        found += _expression_problems(fact, limits)
    elif isinstance(fact, Wet | Stool):
        found += _output_problems(fact, limits)
    elif isinstance(fact, Size):
        found += _size_problems(fact, limits)
    return found


def _fahrenheit_slip(temperature_c: float, limits: PlausibilityLimits) -> str:
    """The question whether Fahrenheit was taken for Celsius; empty where that explains nothing."""
    if not math.isfinite(temperature_c):
        return ""
    meant_c = float(c_from_f(Decimal(str(temperature_c))))
    low, high = limits.temperature_doubtful_low_c.value, limits.temperature_doubtful_high_c.value
    return f"Perhaps °F taken for °C: {meant_c:.1f} °C?" if low <= meant_c <= high else ""


def _expression_problems(fact: Expression, limits: PlausibilityLimits) -> list[Problem]:
    """Volumes, minutes and the hours since the last session."""
    found: list[Problem] = []
    for volume_ml, where in ((fact.left_ml, "left_ml"), (fact.right_ml, "right_ml")):
        if volume_ml is not None:
            found += _range(
                volume_ml,
                "mL from one side",
                where,
                ("VOLUME-003", "VOLUME-004"),
                high=(
                    limits.expression_volume_doubtful_high_ml,
                    limits.expression_volume_refused_high_ml,
                ),
            )
    if fact.minutes is not None:
        found += _range(
            fact.minutes,
            "min of expressing",
            "minutes",
            ("DURATION-003", "DURATION-004"),
            high=(limits.expression_doubtful_high_minutes, limits.expression_refused_high_minutes),
        )
    if fact.hours_since_last is not None:
        found += _range(
            fact.hours_since_last,
            "h since the last session",
            "hours_since_last",
            ("DURATION-005", "DURATION-006"),
            high=(limits.interval_doubtful_high_h, limits.interval_refused_high_h),
        )
    return found


def _output_problems(fact: Wet | Stool, limits: PlausibilityLimits) -> list[Problem]:
    """A count of diapers, brought to a day where it speaks of more than one."""
    is_wet = isinstance(fact, Wet)
    days = max(1.0, (fact.over_h or 0.0) / HOURS_PER_DAY)
    found = _range(
        fact.count / days,
        "wets in a day" if is_wet else "stools in a day",
        "count",
        ("OUTPUT-001", "OUTPUT-002"),
        high=(limits.wets_doubtful_high_count_per_day, limits.wets_refused_high_count_per_day)
        if is_wet
        else (limits.stools_doubtful_high_count_per_day, limits.stools_refused_high_count_per_day),
    )
    if fact.over_h is not None and fact.over_h < 0:
        found.append(_refused("OUTPUT-001", fact.over_h, "h", "over_h", "cannot be negative."))
    return found


def _size_problems(fact: Size, limits: PlausibilityLimits) -> list[Problem]:
    """Length and head circumference."""
    found: list[Problem] = []
    if fact.length_cm is not None:
        found += _range(
            fact.length_cm,
            "cm of length",
            "length_cm",
            ("LENGTH-001", "LENGTH-002"),
            low=(limits.length_refused_low_cm, limits.length_doubtful_low_cm),
            high=(limits.length_doubtful_high_cm, limits.length_refused_high_cm),
        )
    if fact.head_cm is not None:
        found += _range(
            fact.head_cm,
            "cm of head circumference",
            "head_cm",
            ("LENGTH-003", "LENGTH-004"),
            low=(limits.head_refused_low_cm, limits.head_doubtful_low_cm),
            high=(limits.head_doubtful_high_cm, limits.head_refused_high_cm),
        )
    return found


def _range(
    value: float,
    unit: str,
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
        return [_refused(codes[0], value, unit, where, f"cannot be; possible is {edge}.", hint)]
    if value > doubtful_high or (doubtful_low is not None and value < doubtful_low):
        return [
            Problem(
                code=codes[1],
                what=f"{value:g} {unit}",
                why=f"is unusual; usual is {_edge(doubtful_low, doubtful_high)}.",
                fix=joined(hint, message("Correct or confirm it.")),
                where=where,
                doubtful=True,
            )
        ]
    return []


def _refused(code: str, value: float, unit: str, where: str, why: str, hint: Words = "") -> Problem:
    return Problem(
        code=code,
        what=f"{value:g} {unit}",
        why=why,
        fix=joined(hint, message("Correct it.")),
        where=where,
    )


def _edge(low: float | None, high: float) -> str:
    return f"up to {high:g}" if low is None else f"{low:g} to {high:g}"
