"""What is said of the engine's answer in sentences, for the page, the paper and the shell alike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from suffice.assess.engine.answers import Ahead
from suffice.inference.estimate import Estimate, Influence
from suffice.knowledge.store import Content
from suffice.language.kinds import CHOICES
from suffice.message import Age, Amount, Chance, Message, Number, Words, message

MODE_UNKNOWN: Final = "not known"
MOVED_BY: Final[Mapping[str, Message]] = {
    "weight": message("a weight"),
    "test weighing": message("a test weight"),
    "diapers": message("a count of diapers"),
    "milk given": message("the milk given as well as the breast"),
}
"""What an entry that moved the answer is called where it cannot be named, by its kind."""
COUNTED: Final[Mapping[str, Message]] = {
    "wet": message("the wets counted"),
    "stool": message("the stools counted"),
}
"""What all counts of a kind together are called, by their name in the answer."""


def why_silent(estimate: Estimate, content: Content) -> Message:
    """Why neither intake nor gain is judged, where the answer does not speak of them."""
    asked_from_d = content.constant("ranking.likely_short_from_age_d").value
    if estimate.age_d >= asked_from_d:
        return message(
            "Without a weight after birth or a test weight neither intake nor gain can be assessed."
        )
    return message(
        "Before day {day} neither intake nor gain is assessed here: every newborn takes little"
        " at first and loses weight. Until then go by the loss, the wets and the stools.",
        day=Number(asked_from_d),
    )


def about_requirement(estimate: Estimate) -> Message:
    """Which requirement the engine asks about, and when an intake is short."""
    asked = estimate.question
    return message(
        "Requirement: the intake with which this infant would keep the gain that is expected of its age"
        " and sex, {gain}. Intake is called short only where it does not allow for {least}, below which"
        " the gain is looked at. The requirement by published tables, under Intake, is of all infants of"
        " its weight.",
        gain=Amount(asked.requirement_gain_g_per_day, "g/d"),
        least=Amount(asked.gain_limit_g_per_day, "g/d"),
    )


def moved(one: Influence, entries: Mapping[str, str]) -> tuple[Words, Message]:
    """What moved the answer, and how: the answer with it less the answer without it.

    Args:
        one: The influence.
        entries: Entry id to the entry in words.
    """
    names: Mapping[str, Words] = COUNTED if one.kind == "diapers" else entries
    how = message(
        "intake at the breast {intake}, gain {gain}, probability that intake is short {points}"
        " points",
        intake=Amount(one.intake_shift_ml_per_day, "mL/d", signed=True),
        gain=Amount(one.gain_shift_g_per_day, "g/d", signed=True),
        points=Amount(100 * one.short_probability_shift, "1", decimals=0, signed=True),
    )
    what = names.get(one.reading_id, MOVED_BY[one.kind])
    return what, message("{how} (roughly)", how=how) if one.rough else how


def least_difference(difference_g: float) -> Message:
    """How far two weights must lie apart to differ by more than noise."""
    return message(
        "On this scale a difference under {weight} may be weighing error.",
        weight=Amount(difference_g, "g"),
    )


def forecast(ahead: Ahead) -> Message:
    """The forecast of what a scale will show some days from now."""
    return message(
        "Forecast of what a scale will show in {days} days: {median} (80 % interval {low} to {high}).",
        days=Number(ahead.in_days, 0),
        median=Amount(ahead.median_g, "g"),
        low=Amount(ahead.low_80_g, "g"),
        high=Amount(ahead.high_80_g, "g"),
    )


def loss_centile(estimate: Estimate) -> Message | None:
    """Where the change stands among the model's infants; None where no weight tells it."""
    one = estimate.loss_centile
    if one is None:
        return None
    any_mode = message("any mode of delivery")
    return message(
        "Against the model's infants ({mode}): at {age} the change was {change}, their median is"
        " {median}, and {centile} of them have lost more. Model calibrated on published aggregates.",
        age=Age(one.age_h),
        change=Amount(one.change_percent, "%", signed=True),
        median=Amount(one.median_change_percent, "%", signed=True),
        centile=Chance(one.centile / 100),
        mode=any_mode if one.mode == MODE_UNKNOWN else CHOICES.get(one.mode, one.mode),
    )
