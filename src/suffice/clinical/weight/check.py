"""A weight against its age, the weight before it and the birth weight."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight.slip import Slip, likely_slips
from suffice.errors import Problem
from suffice.message import Age, Amount, Number, Words, joined, message


class Previous(NamedTuple):
    """The nearest earlier weight.

    Attributes:
        weight_g: As it was entered.
        age_h: Age at it.
        clothes_g: What clothes weigh that were on the scale then and are not now; negative where it is
            the other way round, 0 where both were alike or nobody says.
    """

    weight_g: float
    age_h: float
    clothes_g: float = 0.0


def check_weight(
    weight_g: float,
    age_h: float,
    limits: PlausibilityLimits,
    *,
    previous: Previous | None = None,
    birth_weight_g: float | None = None,
) -> tuple[Problem, ...]:
    """A weight against its age, the weight before it and the birth weight.

    Args:
        weight_g: As it was entered.
        age_h: Age at the weight, not negative.
        limits: Of the content store.
        previous: The nearest earlier weight; None = there is none.
        birth_weight_g: None = not known.
    """
    follows: Callable[[float], bool] | None = None
    if previous is not None:
        follows = _following(age_h, previous, limits)
    previous_g = None if previous is None else previous.weight_g
    found = weight_by_age(weight_g, age_h, limits, follows, previous_g)
    if found and not found[0].doubtful:
        return tuple(found)
    if follows is not None and previous is not None:
        if follows(weight_g):
            # A small infant that grows as it should was asked about once; that is enough.
            found = []
        else:
            days = (age_h - previous.age_h) / HOURS_PER_DAY
            found.append(_unlike_previous(weight_g, days, previous.weight_g, follows))
    if birth_weight_g is not None and birth_weight_g > 0:
        loss = 100 * (birth_weight_g - weight_g) / birth_weight_g
        refused = loss > limits.loss_refused_percent.value
        if refused or loss > limits.loss_doubtful_percent.value:
            found.append(
                Problem(
                    code="WEIGHT-005" if refused else "WEIGHT-004",
                    what=message("{weight}", weight=Amount(weight_g, "g")),
                    why=message(
                        "is {loss} below the birth weight of {birth_weight}.",
                        loss=Amount(loss, "%", decimals=0),
                        birth_weight=Amount(birth_weight_g, "g"),
                    ),
                    fix=message("Correct it, or weigh again.")
                    if refused
                    else message(
                        "Weigh again at once. If it is true, a physician must see the infant now."
                    ),
                    where="weight_g",
                    doubtful=not refused,
                )
            )
    return tuple(found)


def weight_by_age(
    weight_g: float,
    age_h: float,
    limits: PlausibilityLimits,
    follows: Callable[[float], bool] | None = None,
    previous_g: float | None = None,
) -> list[Problem]:
    """A weight against the limits of its age: nothing, or one problem.

    A slip is offered only where the weight meant would fit the age and, with `follows`, the weight
    before.
    """
    last = limits.weight_refused_high_g.positions[-1]
    age_d = min(age_h / HOURS_PER_DAY, last)
    low, high = (
        limits.weight_doubtful_low_g.at(age_d).value,
        limits.weight_doubtful_high_g.at(age_d).value,
    )
    if low <= weight_g <= high:
        return []
    bottom, top = (
        limits.weight_refused_low_g.at(age_d).value,
        limits.weight_refused_high_g.at(age_d).value,
    )
    refused = not bottom <= weight_g <= top
    days = age_h / HOURS_PER_DAY
    why = (
        message(
            "is outside the range for age {days} days ({bottom} to {top}).",
            days=Number(days, 0),
            bottom=Amount(bottom, "g"),
            top=Amount(top, "g"),
        )
        if refused
        else message(
            "is unusual for age {days} days; usual is {low} to {high}.",
            days=Number(days, 0),
            low=Amount(low, "g"),
            high=Amount(high, "g"),
        )
    )

    def fits(candidate_g: float) -> bool:
        return low <= candidate_g <= high and (follows is None or follows(candidate_g))

    slips = likely_slips(weight_g, fits, previous_g)
    return [
        Problem(
            code="WEIGHT-001" if refused else "WEIGHT-002",
            what=message("{weight}", weight=Amount(weight_g, "g")),
            why=why,
            fix=joined(
                slip_words(slips[:1]),
                message("Correct it.") if refused else message("Correct or confirm it."),
            ),
            where="weight_g",
            doubtful=not refused,
        )
    ]


def weight_at_any_age(weight_g: float, limits: PlausibilityLimits) -> list[Problem]:
    """A weight of an infant whose age is not known: refused where no age allows it."""
    bottom = min(one.value for one in limits.weight_refused_low_g.points)
    top = max(one.value for one in limits.weight_refused_high_g.points)
    if bottom <= weight_g <= top:
        return []
    return [
        Problem(
            code="WEIGHT-001",
            what=message("{weight}", weight=Amount(weight_g, "g")),
            why=message(
                "is outside the range for any age ({bottom} to {top}).",
                bottom=Amount(bottom, "g"),
                top=Amount(top, "g"),
            ),
            fix=message("Correct it."),
            where="weight_g",
        )
    ]


def _following(
    age_h: float, previous: Previous, limits: PlausibilityLimits
) -> Callable[[float], bool]:
    """Whether a weight at an age can follow the weight before it."""
    days = (age_h - previous.age_h) / HOURS_PER_DAY
    # Within a day or two clothes and feeds count for more than growth; later, growth does.
    slack = limits.change_doubtful_g.value
    most = max(slack, limits.gain_doubtful_high_g_per_day.value * days)
    # However long ago, a fall deeper than this share of the weight before is asked about.
    deepest = -limits.loss_doubtful_percent.value * previous.weight_g / 100
    least = min(-slack, max(deepest, limits.gain_doubtful_low_g_per_day.value * days))
    if previous.age_h == 0:  # every newborn loses; the loss from birth is asked by itself
        least = min(-slack, deepest)
    # Clothes taken off may make it lighter by what they weigh, clothes put on heavier.
    least -= max(previous.clothes_g, 0.0)
    most -= min(previous.clothes_g, 0.0)
    return lambda candidate_g: least <= candidate_g - previous.weight_g <= most


def _unlike_previous(
    weight_g: float, days: float, previous_g: float, follows: Callable[[float], bool]
) -> Problem:
    """A weight that does not fit the one before it."""
    slips = likely_slips(weight_g, follows, previous_g)
    return Problem(
        code="WEIGHT-003",
        what=message("{weight}", weight=Amount(weight_g, "g")),
        why=message(
            "is {change} from the weight {span} before ({previous}).",
            change=Amount(weight_g - previous_g, "g", signed=True),
            span=Age(round(days * HOURS_PER_DAY)),
            previous=Amount(previous_g, "g"),
        ),
        fix=joined(
            slip_words(slips[:1]), message("Same infant, same scale, naked? Correct or confirm it.")
        ),
        where="weight_g",
        doubtful=True,
    )


def slip_words(slips: Sequence[Slip]) -> Words:
    """Slips as questions; empty without any."""
    return joined(
        *(
            message("Perhaps {slip}: {weight}?", slip=one.words, weight=Amount(one.weight_g, "g"))
            for one in slips
        )
    )
