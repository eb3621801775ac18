"""How much supplement: in a day, at one feed, and whether any.

From the fifth day on it is need minus what is taken at the breast, neither of which is known
exactly. An amount is proposed where it makes a short day unlikely and a day of too much unlikely as
well; where no amount does both, none is named, and the feeds of a day are to be weighed first. Before
that the protocols give amounts by age. Nothing is proposed where intake suffices, and no number is
said where need, intake or weight are not known well enough: then it is said what is missing.

The share of the need below which a day is short, the one above which it is too much, and how likely
either may be, are values of the content (docs/reference/plan.md).
"""

from __future__ import annotations

import math
from typing import Final, Literal

import msgspec
from scipy.special import ndtr, ndtri

from suffice.clinical.units import GRAMS_PER_KILOGRAM, HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.message import Age, Amount, Chance, Message, Words, joined, message
from suffice.plan.by_age import (
    AmountOfDay,
    amounts_by_day,
    by_age_until_h,
    divided,
    middle_ml,
    rounded_up,
    series_by_age,
)
from suffice.plan.parameters import PlanParameters

UNIT: Final = "mL/d"
WEIGH_FEEDS: Final = message("Weigh every feed for 24 hours first.")
WATCH_FEED: Final = message("Watch a feed, count diapers, and weigh it by the date below.")
AN_HOUR: Final = 1.0
"""Before the end of the amounts by age: the last of them."""
LAST_DAY: Final = message(
    "What it needs at this age has no interval yet: until then the protocol's amount of its last day (our"
    " judgement)."
)
NO_INTERVAL: Final = message(
    "How safe that is cannot be said: what it needs has no interval. More on cues, and weigh it by the date below."
)
JUDGED_ENOUGH: Final = message("None now: by what is known it takes enough.")
DO_NOT_WAIT: Final = message(
    "It gets too little all the same. Do not wait: until then give what a physician orders."
)

Outcome = Literal["none needed", "amount", "by age", "weigh feeds", "not known"]
"""No supplement is needed; an amount from need and intake; an amount of the protocols by age; no
amount is safe both ways; or something is not known."""


class Known(msgspec.Struct, frozen=True, kw_only=True):
    """What a supplement is sized from.

    Attributes:
        age_h: Age; 0 where the birth is not known.
        gestation_days: None where it is not known: then as born at term.
        weight_g: The last weight since birth; None without one.
        weight_age_h: The age at which it was taken.
        need: mL/day with its 80 % interval; None where nobody answers.
        taken: What is taken at the breast, mL/day with its 80 % interval; None where it is not known.
        is_short: Whether it is judged to get too little, or probably too little.
        suffices: Whether it is judged to get enough, or probably enough, and is not unwell.
        is_unwell: Whether a sign of illness stands.
        at_breast: Whether it feeds at the breast at all now.
        feeds_count: Feeds in 24 h over which it is divided.
        is_age_known: Whether the birth is known.
        is_asked_for: Whether a named problem asks for milk after the breast in the first days.
    """

    age_h: float
    gestation_days: int | None
    weight_g: float | None
    weight_age_h: float | None
    need: Figure | None
    taken: Figure | None
    is_short: bool
    suffices: bool
    is_unwell: bool
    at_breast: bool
    feeds_count: int
    is_age_known: bool = True
    is_asked_for: bool = False


class Sized(msgspec.Struct, frozen=True, kw_only=True):
    """A supplement, or why there is none.

    Attributes:
        outcome: What came out.
        says: The result in a sentence.
        safe_ml_per_day: The least that makes a short day unlikely, not rounded; 0 where none is needed.
        ml: At one feed, as a family can measure it; None where no amount is said.
        feeds_count: At how many feeds.
        most_ml: At one feed on cues, of the protocols by age; None otherwise.
        working: How it was found.
        warnings: What must be said with it.
    """

    outcome: Outcome
    says: Words
    safe_ml_per_day: float = 0.0
    ml: float | None = None
    feeds_count: int = 0
    most_ml: float | None = None
    working: Working | None = None
    warnings: tuple[Words, ...] = ()

    @property
    def ml_per_day(self) -> float | None:
        """What the rounded feeds come to in a day; 0 for none; None where no amount is said."""
        if self.outcome == "none needed":
            return 0.0
        return None if self.ml is None else self.ml * self.feeds_count


def supplement(known: Known, parameters: PlanParameters) -> Sized:
    """The supplement that is proposed.

    Args:
        known: What it is sized from.
        parameters: The values in force.
    """
    first = _before_sizing(known, parameters)
    if first is not None:
        return first
    if _is_first_days(known, parameters):
        return _by_age(known, parameters)
    why_not = _what_lacks(known, parameters)
    if why_not and _is_sized_without_interval(known, parameters):
        return _to_the_need(known, parameters)
    if why_not and _is_last_day_held(known, parameters):
        # The fifth to seventh day: the infant does not wait until what it needs and takes is known.
        return _by_age(known, parameters, notes=(LAST_DAY,), warnings=(WEIGH_FEEDS,))
    if not why_not:
        return _by_need(known, parameters)
    waits = (DO_NOT_WAIT,) if known.at_breast and known.is_short else ()
    return Sized(outcome="not known", says=why_not, warnings=waits)


def _before_sizing(known: Known, parameters: PlanParameters) -> Sized | None:
    """Where no amount is to be found: why; or that none is needed. None where one is."""
    gestation_days, late_from = known.gestation_days, parameters.late_preterm_from_days.value
    if not known.is_age_known:
        why = message("No amount: its birth is not known, and so not its age.")
        return Sized(outcome="not known", says=why)
    is_early = gestation_days is not None and gestation_days < late_from
    if is_early and is_before_term(known, parameters.preterm_before_days):
        why = message("Born before 34 weeks: amounts are ordered by the unit.")
        return Sized(outcome="not known", says=why)
    if not known.at_breast or (known.is_short and not known.suffices):
        return None
    return _at_breast_not_short(known, parameters)


def _at_breast_not_short(known: Known, parameters: PlanParameters) -> Sized | None:
    """Of an infant at the breast that is not known to get too little."""
    is_first_days = _is_first_days(known, parameters)
    if known.suffices:
        return Sized(outcome="none needed", says=JUDGED_ENOUGH)
    if known.is_unwell:
        why = message("No amount: it is unwell, and a physician decides first.")
        return Sized(outcome="not known", says=why)
    if known.is_asked_for and is_first_days:
        return None
    if is_first_days:
        # Feeds of some millilitres: a scale cannot tell them, diapers and weights do.
        why = message("No amount: whether it takes enough is not known yet.")
        return Sized(outcome="not known", says=why, warnings=(WATCH_FEED,))
    why = message("No amount: whether it takes enough is not known.")
    return Sized(outcome="not known", says=why, warnings=(WEIGH_FEEDS,))


def spread_ml(figure: Figure) -> float | None:
    """The standard deviation behind an interval; None where there is no interval with its level."""
    if figure.low is None or figure.high is None or not figure.level:
        return None
    return (figure.high - figure.low) / (2 * float(ndtri((1 + figure.level) / 2)))


def is_before_term(known: Known, term: Constant) -> bool:
    """Whether weeks since conception are fewer than those of a term."""
    gestation_days = known.gestation_days
    return gestation_days is not None and (
        gestation_days + known.age_h / HOURS_PER_DAY < term.value
    )


def _is_first_days(known: Known, parameters: PlanParameters) -> bool:
    return known.age_h < by_age_until_h(known.gestation_days, parameters)


def _is_last_day_held(known: Known, parameters: PlanParameters) -> bool:
    """Whether an infant at the breast gets too little, and no amount can be worked out yet.

    What it needs is known without an interval only; or, in the first week, what it takes is not known.
    """
    is_vague = known.need is not None and spread_ml(known.need) is None
    is_untold = known.taken is None or spread_ml(known.taken) is None
    is_first = (is_vague and known.age_h < parameters.build_until_d.value * HOURS_PER_DAY) or (
        is_untold and known.age_h < parameters.first_week_until_d.value * HOURS_PER_DAY
    )
    return known.at_breast and known.is_short and is_first and not _is_old(known, parameters)


def _is_sized_without_interval(known: Known, parameters: PlanParameters) -> bool:
    """Whether it is given what lacks to a need without an interval, since what it takes is known.

    That is so of one that is not at the breast and not known to get enough, and in the first two weeks of a short
    one whose feeds were weighed for a day.
    """
    need, taken = known.need, known.taken
    if need is None or spread_ml(need) is not None or known.is_unwell or _is_old(known, parameters):
        return False
    if not known.at_breast:
        # As with an interval: what it drinks is what is given, and that is not known to be enough.
        return not known.suffices
    if not known.is_short:
        return False
    is_early = known.age_h < parameters.build_until_d.value * HOURS_PER_DAY
    is_weighed = taken is not None and spread_ml(taken) is not None
    return is_early and is_weighed and taken is not None and taken.value < need.value


def _is_old(known: Known, parameters: PlanParameters) -> bool:
    """Whether there is no weight since birth on which an amount may rest."""
    if known.weight_g is None or known.weight_age_h is None:
        return True
    return known.age_h - known.weight_age_h > parameters.weight_stands_d.value * HOURS_PER_DAY


def _by_age(
    known: Known,
    parameters: PlanParameters,
    *,
    notes: tuple[Words, ...] = (),
    warnings: tuple[Words, ...] = (),
) -> Sized:
    """The protocol's amounts: begin in the middle, more on cues."""
    low, high = series_by_age(known.gestation_days, parameters)
    age_h = min(known.age_h, by_age_until_h(known.gestation_days, parameters) - AN_HOUR)
    least, most = low.at(age_h), high.at(age_h)
    ml = middle_ml(least.value, most.value, parameters)
    count = known.feeds_count
    later = amounts_by_day(known.age_h, known.gestation_days, parameters)[1:]
    says = message(
        "{ml} at each feed, up to {most} on cues: about {day} in 24 h.",
        ml=Amount(ml, "mL"),
        most=Amount(most.value, "mL"),
        day=Amount(ml * count, "mL"),
    )
    return Sized(
        outcome="by age",
        says=joined(says, *(_later_words(one) for one in later)),
        safe_ml_per_day=least.value * count,
        ml=ml,
        feeds_count=count,
        most_ml=most.value,
        working=Working(
            formula=message("the protocol's amount at this age; its middle, rounded up"),
            inputs=(Quantity(name=message("age"), value=round(known.age_h), unit="h"),),
            constants=(least, most, parameters.fine_step_ml, parameters.coarse_step_ml),
            notes=(message("No cap for what is taken at the breast."), *notes),
        ),
        warnings=warnings,
    )


def _to_the_need(known: Known, parameters: PlanParameters) -> Sized:
    """What lacks to a need that has no interval; at the breast no less than the protocol's last day says."""
    need = 0.0 if known.need is None else known.need.value
    taken = known.taken if known.at_breast else None
    lacks = need - (0.0 if taken is None else taken.value)
    count = known.feeds_count
    low, high = series_by_age(known.gestation_days, parameters)
    last_h = by_age_until_h(known.gestation_days, parameters) - AN_HOUR
    least, most = low.at(last_h), high.at(last_h)
    ml = rounded_up(max(lacks, 0.0) / count, parameters)
    ml = max(ml, least.value) if known.at_breast else ml
    return Sized(
        outcome="amount",
        says=_amount_words(ml, count, count),
        safe_ml_per_day=lacks,
        ml=ml,
        feeds_count=count,
        most_ml=max(most.value, ml) if known.at_breast else None,
        working=Working(
            formula=message("need minus what is taken, at each feed, rounded up"),
            inputs=(
                Quantity(name=message("need"), value=round(need), unit=UNIT),
                *(
                    (
                        Quantity(
                            name=message("taken at the breast"), value=round(taken.value), unit=UNIT
                        ),
                    )
                    if taken is not None
                    else ()
                ),
            ),
            constants=(
                *((least, most) if known.at_breast else ()),
                parameters.fine_step_ml,
                parameters.coarse_step_ml,
            ),
        ),
        warnings=(NO_INTERVAL,),
    )


def _later_words(one: AmountOfDay) -> Message:
    return message(
        "From {age} of age {ml}, up to {most}.",
        age=Age(one.from_h),
        ml=Amount(one.ml, "mL"),
        most=Amount(one.most_ml, "mL"),
    )


def _what_lacks(known: Known, parameters: PlanParameters) -> Words:
    """What keeps an amount from being named; empty where nothing does."""
    if known.weight_g is None or known.weight_age_h is None:
        return message("No amount: not weighed since birth. Weigh first.")
    if _is_old(known, parameters):
        old_h = known.age_h - known.weight_age_h
        return message("No amount: the last weight is {age} old. Weigh first.", age=Age(old_h))
    if known.need is None:
        return message("No amount: the need is not known.")
    if spread_ml(known.need) is None:
        return message(
            "No amount: the need at this age has no interval, so how safe an amount is cannot be said."
        )
    if not known.at_breast:
        return ""
    if known.taken is None or spread_ml(known.taken) is None:
        return message(
            "No amount: what it takes at the breast is not known. Weigh every feed for 24 hours."
        )
    return ""


class _Both(msgspec.Struct, frozen=True, kw_only=True):
    """Need and intake at the breast with their spreads, mL/day."""

    need: float
    need_sd: float
    taken: float
    taken_sd: float

    def to(self, share: float) -> tuple[float, float]:
        """What lacks to a share of the need: mean and standard deviation."""
        sd = math.hypot(share * self.need_sd, self.taken_sd)
        return share * self.need - self.taken, sd

    def is_less(self, share: float, given: float) -> float:
        """The chance that intake with so much given is less than a share of the need."""
        mean, sd = self.to(share)
        return float(ndtr((mean - given) / sd)) if sd > 0 else float(mean > given)


def _by_need(known: Known, parameters: PlanParameters) -> Sized:
    """Need minus what is taken, as far as that is safe both ways."""
    both = _both(known)
    lacks, lacks_sd = both.to(parameters.band_low_fraction.value)
    room, room_sd = both.to(parameters.band_high_fraction.value)
    safe = max(lacks + float(ndtri(1 - parameters.short_chance_fraction.value)) * lacks_sd, 0.0)
    most = room - float(ndtri(1 - parameters.over_chance_fraction.value)) * room_sd
    if safe <= 0:
        says = message("None: it takes enough at the breast.")
        return Sized(outcome="none needed", says=says, working=_working(both, 0.0, parameters))
    if safe > most:
        return Sized(
            outcome="weigh feeds",
            says=message(
                "No amount is safe both ways: enough that a day is hardly ever short would too often be"
                " too much."
            ),
            safe_ml_per_day=safe,
            working=_working(both, safe, parameters),
            warnings=(WEIGH_FEEDS, *((DO_NOT_WAIT,) if known.is_short else ())),
        )
    ml, count = divided(safe, most, known.feeds_count, parameters, at_breast=known.at_breast)
    given = ml * count
    return Sized(
        outcome="amount",
        says=_amount_words(ml, count, known.feeds_count),
        safe_ml_per_day=safe,
        ml=ml,
        feeds_count=count,
        working=_working(both, given, parameters, safe=safe),
        warnings=tuple(_too_much(known, both, given, most, parameters)),
    )


def _both(known: Known) -> _Both:
    need, taken = known.need, known.taken if known.at_breast else None
    if need is None:
        raise ValueError("what lacks is asked before")
    return _Both(
        need=need.value,
        need_sd=spread_ml(need) or 0.0,
        taken=0.0 if taken is None else taken.value,
        taken_sd=0.0 if taken is None else spread_ml(taken) or 0.0,
    )


def _amount_words(ml: float, count: int, feeds_count: int) -> Words:
    amount, day = Amount(ml, "mL"), Amount(ml * count, "mL")
    if count == feeds_count:
        return message("{ml} at each feed: {day} in 24 h.", ml=amount, day=day)
    return message(
        "{ml} at {some} of {feeds} feeds: {day} in 24 h.",
        ml=amount,
        some=count,
        feeds=feeds_count,
        day=day,
    )


def _too_much(
    known: Known, both: _Both, given: float, most: float, parameters: PlanParameters
) -> list[Words]:
    """What is said where rounding or the weight make it more than it should be."""
    found: list[Words] = []
    if given > most:
        over = 1 - both.is_less(parameters.band_high_fraction.value, given)
        found.append(
            message(
                "Rounded up it may be too much ({chance}): watch for spitting up and turning away.",
                chance=Chance(over),
            )
        )
    ceiling = parameters.most_ml_per_kg_per_day.value
    per_kg = (both.taken + given) / ((known.weight_g or math.inf) / GRAMS_PER_KILOGRAM)
    if per_kg > ceiling:
        found.append(
            message(
                "With what it takes that is {all}, over the usual ceiling of {ceiling}.",
                all=Amount(per_kg, "mL/kg/d", decimals=0),
                ceiling=Amount(ceiling, "mL/kg/d", decimals=0),
            )
        )
    return found


def _working(
    both: _Both, given: float, parameters: PlanParameters, *, safe: float | None = None
) -> Working:
    low, high = parameters.band_low_fraction, parameters.band_high_fraction
    least = (
        ()
        if safe is None
        else (
            Quantity(name=message("least that is safe, not rounded"), value=round(safe), unit=UNIT),
        )
    )
    return Working(
        formula=message(
            "the least amount with which intake is seldom below the lower share of the need, where it is"
            " not too often above the higher; need and intake uncertain, as normal and independent"
        ),
        inputs=(
            Quantity(name=message("need"), value=round(both.need), unit=UNIT),
            Quantity(name=message("SD of the need"), value=round(both.need_sd), unit=UNIT),
            Quantity(name=message("taken at the breast"), value=round(both.taken), unit=UNIT),
            Quantity(name=message("SD of what is taken"), value=round(both.taken_sd), unit=UNIT),
            *least,
        ),
        constants=(
            low,
            high,
            parameters.short_chance_fraction,
            parameters.over_chance_fraction,
            parameters.fine_step_ml,
            parameters.coarse_step_ml,
        ),
        notes=(
            message(
                "With {given} in 24 h a day is short with {short}, too much with {over}.",
                given=Amount(given, "mL", decimals=0),
                short=Chance(both.is_less(low.value, given)),
                over=Chance(1 - both.is_less(high.value, given)),
            ),
        ),
    )
