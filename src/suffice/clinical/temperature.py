"""A young infant's temperature: what belongs to a physician, and what to take again.

The limits are read inclusively on the side of caution: fever from its limit upward, low below its
limit. Between the limits of an older edition and a newer one the reading is 'take again now'. From
the age at which 'any fever' ends, a higher limit stands until its own age ends.
"""

from __future__ import annotations

from typing import ClassVar, Literal

import msgspec

from suffice.clinical.parameters import Parameters
from suffice.clinical.working import Constant, Quantity, Working
from suffice.message import Message, Number, message

SITES: dict[str, Message] = {
    "rectum": message("rectum"),
    "ear": message("ear"),
    "forehead": message("forehead"),
}
"""Where a temperature is taken, beside the axilla."""

TemperatureVerdict = Literal["fever", "take again", "usual", "low"]


class TemperatureLimits(Parameters, frozen=True, kw_only=True):
    """When a temperature is a red flag."""

    topic: ClassVar[str] = "temperature"

    fever_c: Constant
    repeat_c: Constant
    """From here to fever: take again now (the limit of an older edition)."""
    cool_c: Constant
    """Below here down to low: warm skin to skin, and take again."""
    low_c: Constant
    fever_until_age_d: Constant
    """Age up to which these limits were published."""
    high_fever_c: Constant
    """The limit from there on."""
    high_fever_until_age_d: Constant
    """Age up to which that one was published."""


class TemperatureJudgement(msgspec.Struct, frozen=True, kw_only=True):
    """A temperature against the limits, with its working."""

    verdict: TemperatureVerdict
    temperature_c: float
    working: Working


def judge_temperature(
    temperature_c: float, limits: TemperatureLimits, *, age_d: float, site: str | None = None
) -> TemperatureJudgement:
    """A temperature against the limits for young infants.

    Args:
        temperature_c: In °C; plausibility is asked elsewhere.
        limits: Of the content store.
        age_d: Age in days; past their published age the limits are used on, and it is said.
        site: Where it was taken; anything but the axilla is noted, nothing is added or taken off.
    """
    verdict: TemperatureVerdict = "usual"
    limit = limits.fever_c
    if temperature_c >= limits.fever_c.value:
        verdict = "fever"
    elif temperature_c >= limits.repeat_c.value:
        verdict, limit = "take again", limits.repeat_c
    elif temperature_c < limits.low_c.value:
        verdict, limit = "low", limits.low_c
    elif temperature_c < limits.cool_c.value:
        verdict, limit = "take again", limits.cool_c
    notes: list[Message] = []
    is_older = age_d >= limits.fever_until_age_d.value
    is_covered = age_d < limits.high_fever_until_age_d.value
    if is_older and is_covered and temperature_c >= limits.high_fever_c.value:
        limit = limits.high_fever_c
    elif is_older:
        notes.append(
            message(
                "The limits were published for infants of up to {days} days.",
                days=Number(limits.fever_until_age_d.value),
            )
        )
    if site is None:
        notes.append(message("Where it was taken is not known."))
    elif site != "axilla":
        notes.append(
            message("Taken at the {site}; the limits assume the axilla.", site=SITES[site])
        )
    return TemperatureJudgement(
        verdict=verdict,
        temperature_c=temperature_c,
        working=Working(
            formula=message("fever: at or above its limit; low: below its limit"),
            inputs=(
                Quantity(name=message("temperature"), value=temperature_c, unit="Cel"),
                Quantity(name=message("age"), value=age_d, unit="d"),
            ),
            constants=(limit,),
            notes=tuple(notes),
        ),
    )
