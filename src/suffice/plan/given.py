"""Which milk a supplement is, in which order, and how it is given."""

from __future__ import annotations

from typing import Final, Literal

from suffice.clinical.entry import Plan
from suffice.clinical.production import Production
from suffice.clinical.units import HOURS_PER_DAY
from suffice.message import Words, message
from suffice.plan.express import LITTLE
from suffice.plan.known import Asked, milk_feeds_in_24_h, sessions_in_24_h
from suffice.plan.line import Line
from suffice.plan.parameters import PlanParameters
from suffice.plan.size import Known, is_before_term
from suffice.plan.supplement import Supplement

Method = Literal["spoon", "cup", "tube", "bottle"]
SUPPLY: Final = frozenset(
    {
        "low_supply",
        "supply_removal",
        "supply_glandular",
        "supply_surgery",
        "supply_hormones",
        "supply_retained",
        "supply_blood_loss",
        "supply_medicine",
    }
)
"""Problems of the supply, in which an infant that latches well can have more while it feeds."""
NOT_BY_TUBE: Final = frozenset(
    {
        "shallow_latch",
        "ineffective_suck",
        "sleepy_newborn",
        "late_preterm_feeding",
        "suspected_tongue_tie",
        "not_on",
        "birth_pain",
        "breast_refusal",
        "unsafe_swallow",
        "nipple_pain",
        "pain_latch",
        "breast_herpes",
    }
)
"""Problems in which a tube at the breast asks for a latch and a suck that are not there, or prolongs what hurts."""


def milk_of(
    asked: Asked, known: Known, milk: Supplement, made: Production
) -> Literal["own", "own, donor, formula", "formula"] | None:
    """Own milk first; alone where what is made is surely enough for the supplement.

    Formula alone where that is all it is given and drinks, and nobody expresses.
    """
    if not milk.ml_per_day:
        return None
    given = {one.milk for one in milk_feeds_in_24_h(asked)}
    is_wanted = sessions_in_24_h(asked) or asked.problems & LITTLE
    if given == {"formula"} and not known.at_breast and not is_wanted:
        return "formula"
    own = made.together
    is_enough = own is not None and own.low is not None and own.low >= milk.ml_per_day
    return "own" if is_enough else "own, donor, formula"


def method_of(asked: Asked, ml: float, known: Known, parameters: PlanParameters) -> Method:
    """By the amount; all that is drunk is given by bottle after the first week, for a cup takes too long.

    Where the supply is the problem and nothing is known against the latch, at the breast through a tube.
    """
    if _is_by_tube(asked, ml, known, parameters):
        return "tube"
    is_past_days = known.age_h >= parameters.first_week_until_d.value * HOURS_PER_DAY
    if is_past_days and not known.at_breast:
        return "bottle"
    is_first_day = known.age_h < HOURS_PER_DAY and ml <= parameters.fine_below_ml.value
    if ml <= parameters.method_drops_until_ml.value or is_first_day:
        return "spoon"
    return "cup" if ml <= parameters.method_cup_until_ml.value else "bottle"


def _is_by_tube(asked: Asked, ml: float, known: Known, parameters: PlanParameters) -> bool:
    is_grown = known.age_h >= parameters.amounts_until_h.value and not is_before_term(
        known, parameters.term_days
    )
    is_supply = bool(asked.problems & SUPPLY) and not asked.problems & NOT_BY_TUBE
    is_measured = ml >= parameters.method_tube_from_ml.value
    return known.at_breast and is_grown and is_supply and is_measured and not asked.is_unwell


def order_of(plan: Plan, made: Production) -> Line:
    """Which milk first, and how it is given, in sentences."""
    says: list[Words] = [
        message("Own expressed milk first, then donor milk, then formula."),
        message("Formula only as the parent and the physician agreed."),
        message("No way of giving it is best: the parent picks one that fits the amount."),
    ]
    if plan.milk == "own":
        says = [message("Own expressed milk: what is made is enough for it."), says[-1]]
    if plan.milk == "formula":
        says = [message("Formula, as now: nothing is expressed."), says[-1]]
    if plan.method == "tube":
        says.append(
            message(
                "The supply is the problem: a tube at the breast gives it while the infant sucks there, if the latch"
                " is good and the parent wants it. Whoever helps gives it by bottle or cup."
            )
        )
    figure = made.together
    return Line(part="milk", says=tuple(says), workings=(figure.working,) if figure else ())
