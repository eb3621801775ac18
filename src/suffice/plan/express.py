"""What a plan says of expressing: what for, how often, how long; and the minutes of a day in all."""

from __future__ import annotations

import math
from typing import Final, Literal

import msgspec

from suffice.clinical.units import HOURS_PER_DAY, MINUTES_PER_HOUR
from suffice.clinical.working import Quantity, Working
from suffice.message import Amount, Number, Words, message
from suffice.plan.parameters import PlanParameters

What = Literal["build", "keep", "relieve", "wean"]
SORE: Final = frozenset(
    {
        "engorgement",
        "breast_oedema",
        "ductal_narrowing",
        "mastitis_inflammatory",
        "mastitis_bacterial",
        "breast_abscess",
        "excess_supply",
    }
)
"""Problems in which more is not expressed than what comforts."""
INFLAMED: Final = SORE - {"excess_supply"}
"""Of these: where milk is expressed, no session is left out, and none is dropped while stopping."""
OWN_WAY: Final = message(
    "Not proposed: it gets enough as it is fed, and nothing was expressed in 24 h. Ask whether the family wants"
    " less supplement: then expressing comes first."
)
LITTLE: Final = frozenset(
    {
        "low_supply",
        "delayed_onset",
        "pump_dependent",
        "unit_start",
        "not_on",
        "ineffective_suck",
        "late_preterm_feeding",
    }
)
"""Problems in which more milk has to be removed than the infant does."""
ONE_SIDE: Final = frozenset({"breast_herpes"})
"""Problems in which one side is not fed from for a while, and is expressed as often as it was fed."""
STOPPING: Final = "stopping"
AT_WORK: Final = "return_to_work"
AWAY_UNTOLD: Final = message(
    "Write down from when to when she is away: how often to express and how much milk to leave go by that."
)


class Expressing(msgspec.Struct, frozen=True, kw_only=True):
    """What is proposed of expressing; `what` None: nothing.

    Attributes:
        what: What for.
        says: The sentences.
        sessions_count: In 24 h; None where it is not counted.
        minutes: Of one session; None where it has no length.
        working: How it came about.
    """

    what: What | None
    says: tuple[Words, ...]
    sessions_count: int | None = None
    minutes: float | None = None
    working: Working | None = None


class Situation(msgspec.Struct, frozen=True, kw_only=True):
    """What decides on expressing.

    Attributes:
        problems: Keys of the problems that are named.
        age_d: Age of the infant.
        at_breast: Whether it feeds at the breast.
        is_supplemented: Whether the plan has a supplement.
        is_short: Whether the infant is judged to get too little.
        sessions_count: Sessions in the last 24 hours.
        away_h: The longest time in one piece that the parent is away and can express, in hours.
        is_away_known: Whether the hours away, or that nothing is expressed then, were written down.
        feeds_count: Feeds in 24 h; None where nobody says.
        is_given_own: Whether own expressed milk was given in the last 24 hours.
        is_chosen: Whether the supplement is the family's own way: no plan, no problem of supply, and it gets enough.
    """

    problems: frozenset[str]
    age_d: float
    at_breast: bool
    is_supplemented: bool
    is_short: bool
    sessions_count: int
    away_h: float = 0.0
    is_away_known: bool = False
    feeds_count: int | None = None
    is_given_own: bool = False
    is_chosen: bool = False

    @property
    def is_expressed(self) -> bool:
        """Whether milk is expressed now, by sessions on record or by what was given."""
        return self.sessions_count > 0 or self.is_given_own


def expressing(situation: Situation, parameters: PlanParameters) -> Expressing:
    """What is proposed of expressing.

    A breast that is sore or overfull comes first: nothing extra, nothing dropped. Then whoever is
    stopping; then too little milk, which is built; then a side that is not fed from; then a parent who is away for
    hours; then milk that is kept where nothing is taken at the breast. Who gives formula alone, or some of it by
    choice to an infant that gets enough, and does not express is not asked to begin.
    """
    if situation.problems & SORE:
        if situation.sessions_count and situation.problems & INFLAMED:
            return _as_now(situation)
        says = message("By hand, to comfort only; keep the usual feeds, none extra, none dropped.")
        return Expressing(what="relieve", says=(says,))
    if STOPPING in situation.problems:
        return _wean(situation, parameters)
    return _for_milk(situation, parameters)


def _for_milk(situation: Situation, parameters: PlanParameters) -> Expressing:
    """What is expressed where no breast is sore and nobody is stopping."""
    is_little = bool(situation.problems & LITTLE) or situation.is_supplemented or situation.is_short
    if situation.at_breast and situation.is_supplemented and situation.is_chosen:
        return Expressing(what=None, says=(OWN_WAY,))
    if situation.at_breast and not is_little and situation.problems & ONE_SIDE:
        return _one_side(parameters)
    if situation.at_breast and not is_little and situation.away_h >= parameters.away_least_h.value:
        return _while_away(situation, parameters)
    if situation.at_breast and not is_little:
        is_untold = AT_WORK in situation.problems and not situation.is_away_known
        says = AWAY_UNTOLD if is_untold else message("Not needed.")
        return Expressing(what=None, says=(says,))
    if not situation.at_breast and not situation.is_expressed and not situation.problems & LITTLE:
        return Expressing(what=None, says=(message("None: nothing was expressed in 24 h."),))
    is_early = situation.age_d < parameters.build_until_d.value
    if situation.at_breast or is_early or situation.problems & LITTLE:
        return _build(situation, parameters)
    return keeping(parameters, now=situation.sessions_count)


def day_minutes(
    *,
    feeds_count: int,
    at_breast: bool,
    supplement_feeds_count: int,
    sessions_count: int,
    parameters: PlanParameters,
) -> Working:
    """The minutes of a day that a plan takes; the first input of the working is their sum."""
    breast = feeds_count * parameters.breast_minutes.value if at_breast else 0.0
    top_up = parameters.top_up_minutes if at_breast else parameters.bottle_minutes
    given = supplement_feeds_count * top_up.value
    expressed = sessions_count * parameters.expression_minutes.value
    cleaning = (
        parameters.cleaning_minutes.value if sessions_count or supplement_feeds_count else 0.0
    )
    return Working(
        formula=message("feeds at the breast + supplements + sessions + cleaning"),
        inputs=(
            Quantity(
                name=message("in all"), value=breast + given + expressed + cleaning, unit="min"
            ),
            Quantity(name=message("at the breast"), value=breast, unit="min"),
            Quantity(name=message("giving the supplement"), value=given, unit="min"),
            Quantity(name=message("expressing"), value=expressed, unit="min"),
            Quantity(name=message("cleaning"), value=cleaning, unit="min"),
        ),
        constants=(
            parameters.breast_minutes,
            top_up,
            parameters.expression_minutes,
            parameters.cleaning_minutes,
        ),
    )


def minutes_words(working: Working) -> Words:
    """The minutes of a day in a sentence."""
    minutes = working.inputs[0].value
    return message(
        "The plan takes about {hours} h of 24 ({minutes}).",
        hours=Number(minutes / MINUTES_PER_HOUR, 1),
        minutes=Amount(minutes, "min", 0),
    )


def is_over_a_day(working: Working) -> bool:
    """Whether a plan takes more minutes than a day has."""
    return working.inputs[0].value > HOURS_PER_DAY * MINUTES_PER_HOUR


def _build(situation: Situation, parameters: PlanParameters) -> Expressing:
    count, minutes = parameters.build_sessions_count_per_day, parameters.session_minutes
    sessions, each = int(count.value), Amount(minutes.value, "min", 0)
    says: list[Words] = [
        message(
            "After the feeds, {count} times in 24 h, {minutes} with both sides together.",
            count=sessions,
            minutes=each,
        )
        if situation.at_breast
        else message(
            "{count} times in 24 h, {minutes} with both sides together.",
            count=sessions,
            minutes=each,
        ),
        message(
            "Once at night, and no gap of more than {hours} h.",
            hours=Number(parameters.removal_gap_h.value, 0),
        ),
        message(
            "Fewer than {least} times is not likely to build supply.",
            least=int(parameters.build_least_count_per_day.value),
        ),
    ]
    return Expressing(
        what="build",
        says=tuple(says),
        sessions_count=sessions,
        minutes=minutes.value,
        working=Working(
            formula=message("as often as a newborn feeds"),
            constants=(
                count,
                parameters.build_least_count_per_day,
                minutes,
                parameters.removal_gap_h,
            ),
        ),
    )


def keeping(parameters: PlanParameters, *, now: int = 0) -> Expressing:
    """Sessions as often as keeps supply where the infant takes nothing at the breast.

    Args:
        parameters: The values in force.
        now: Sessions in the last 24 hours. Who has more, up to as many as build supply, is not sent down: fewer
            is tried one by one, while the sum of the day holds.
    """
    least, minutes = parameters.keep_sessions_count_per_day, parameters.session_minutes
    most = parameters.build_sessions_count_per_day
    count = int(max(least.value, min(now, most.value)))
    return Expressing(
        what="keep",
        says=(
            message(
                "{count} times in 24 h, {minutes} with both sides together; fewer while the day's sum"
                " stays the same.",
                count=count,
                minutes=Amount(minutes.value, "min", 0),
            ),
        ),
        sessions_count=count,
        minutes=minutes.value,
        working=Working(
            formula=message("as often as keeps supply"),
            inputs=(Quantity(name=message("sessions in 24 h"), value=now, unit="count"),)
            if now
            else (),
            constants=(least, most, minutes),
        ),
    )


def _as_now(situation: Situation) -> Expressing:
    """A sore breast of somebody who expresses: as many sessions as before, until it is well."""
    return Expressing(
        what="keep",
        says=(
            message(
                "As often as now, {count} times in 24 h: none extra, none dropped, until the breast has been well"
                " for two days. Gently: no kneading.",
                count=situation.sessions_count,
            ),
        ),
        sessions_count=situation.sessions_count,
        working=Working(
            formula=message("as many sessions as in the last 24 hours"),
            inputs=(
                Quantity(
                    name=message("sessions in 24 h"), value=situation.sessions_count, unit="count"
                ),
            ),
        ),
    )


def _one_side(parameters: PlanParameters) -> Expressing:
    """The side that is not fed from is expressed at the feeds; how many that are is the family's."""
    minutes = parameters.session_minutes
    return Expressing(
        what="keep",
        says=(
            message(
                "The side that is not fed from: at each feed, {minutes}; that milk is not given.",
                minutes=Amount(minutes.value, "min", 0),
            ),
        ),
        sessions_count=int(parameters.keep_sessions_count_per_day.value),
        minutes=minutes.value,
        working=Working(
            formula=message("as often as keeps supply"),
            constants=(parameters.keep_sessions_count_per_day, minutes),
        ),
    )


def _while_away(situation: Situation, parameters: PlanParameters) -> Expressing:
    """Milk is removed about as often as the infant would, and so much is left for whoever feeds it."""
    away_h = situation.away_h
    # An infant that has few feeds misses few: at least one session for comfort.
    feeds = situation.feeds_count
    missed = math.inf if feeds is None else math.ceil(feeds * away_h / HOURS_PER_DAY)
    count = int(max(min(math.floor(away_h / parameters.away_gap_h.value), missed), 1))
    low, high = parameters.away_low_ml, parameters.away_high_ml
    left = message(
        "For whoever feeds it meanwhile: {low} to {high} of own milk, in small portions.",
        low=Amount(low.value * away_h, "mL", 0),
        high=Amount(high.value * away_h, "mL", 0),
    )
    if situation.age_d < parameters.away_amount_from_d.value:
        left = message(
            "For whoever feeds it meanwhile: before four weeks go by what it takes at a feed."
        )
    return Expressing(
        what="keep",
        says=(
            message(
                "{count} time while away for {hours} h, {minutes} with both sides together.",
                plural="{count} times while away for {hours} h, {minutes} with both sides together.",
                count=count,
                hours=Number(away_h, 1),
                minutes=Amount(parameters.session_minutes.value, "min", 0),
            ),
            left,
        ),
        sessions_count=count,
        minutes=parameters.session_minutes.value,
        working=Working(
            formula=message(
                "hours away, divided by the time between two sessions; so much for each hour"
            ),
            inputs=(Quantity(name=message("away"), value=away_h, unit="h"),),
            constants=(
                parameters.away_gap_h,
                low,
                high,
                parameters.away_least_h,
                parameters.away_amount_from_d,
            ),
        ),
    )


def _wean(situation: Situation, parameters: PlanParameters) -> Expressing:
    """One session less at a time, or where none is expressed one feed at the breast."""
    if not situation.sessions_count:
        return Expressing(
            what="wean",
            says=(
                message(
                    "One feed at the breast fewer every {days} days, or slower; by hand to comfort only where a"
                    " breast is full or lumpy.",
                    days=Number(parameters.wean_step_d.value, 0),
                ),
            ),
            working=Working(
                formula=message("one feed at the breast fewer at a time"),
                constants=(parameters.wean_step_d,),
            ),
        )
    count = max(situation.sessions_count - 1, 0)
    return Expressing(
        what="wean",
        says=(
            message(
                "One session fewer every {days} days: {count} in 24 h now; longer where a breast is full or"
                " lumpy.",
                days=Number(parameters.wean_step_d.value, 0),
                count=count,
            ),
        ),
        sessions_count=count,
        working=Working(
            formula=message("one session fewer than in the last 24 hours"),
            inputs=(
                Quantity(
                    name=message("sessions in 24 h"), value=situation.sessions_count, unit="count"
                ),
            ),
            constants=(parameters.wean_step_d,),
        ),
    )
