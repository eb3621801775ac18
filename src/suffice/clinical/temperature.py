"""A young infant's temperature: what belongs to a physician, and what to take again.

The limits are read inclusively on the side of caution: fever from its limit upward, low below its
limit. Between the limits of an older edition and a newer one the reading is 'take again now'. From
the age at which 'any fever' ends, a higher limit stands until its own age ends. Both ages are
months of the calendar; for an infant born preterm the first is counted from the date on which it
was due, where that is later.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import ClassVar, Literal

import msgspec

from suffice.clinical.age import AgeParameters, months_after_birth
from suffice.clinical.parameters import Parameters
from suffice.clinical.working import Constant, Quantity, Working
from suffice.message import Message, Number, message

SITES: dict[str, Message] = {
    "rectum": message("rectum"),
    "ear": message("ear"),
    "forehead": message("forehead"),
    "strip": message("strip on the forehead"),
}
"""Where a temperature is taken, beside the axilla."""

Stage = Literal["young", "middle", "older"]
"""Below three months; from there to six; from six months on."""
DOUBTFUL_SITES = frozenset({"ear", "forehead"})
"""Where a newborn's temperature cannot be trusted."""
STRIP = "strip"
"""A strip of colours on the forehead, which can be trusted at no age."""

TemperatureVerdict = Literal["fever", "take again", "usual", "low"]


class TemperatureLimits(Parameters, frozen=True, kw_only=True):
    """When a temperature is a red flag."""

    topic: ClassVar[str] = "temperature"

    fever_c: Constant
    repeat_c: Constant
    """From here to fever: take again now (the limit of an older edition)."""
    cool_c: Constant
    """Below here down to low: warm skin to skin, and take again."""
    cold_c: Constant
    """Below here down to low: a physician knows."""
    low_c: Constant
    fever_until_age_months: Constant
    """Calendar age up to which any fever is an emergency."""
    fever_until_postmenstrual_d: Constant
    """Postmenstrual age up to which it is one in an infant born preterm, where that is later."""
    high_fever_c: Constant
    """The limit from there on."""
    high_fever_until_age_months: Constant
    """Calendar age up to which that one was published."""
    fever_lasts_d: Constant
    """So long a fever is seen by a physician at any age."""
    warm_again_h: Constant
    """Two warm readings so far apart are warmth that stays."""
    cool_again_h: Constant
    """The same for two cool ones: time to warm an infant skin to skin."""
    site_until_d: Constant
    """Age below which a reading of ear or forehead is doubtful."""
    site_again_h: Constant
    """How soon a reading at a better site replaces a doubtful one."""


class TemperatureJudgement(msgspec.Struct, frozen=True, kw_only=True):
    """A temperature against the limits, with its working."""

    verdict: TemperatureVerdict
    temperature_c: float
    working: Working


def stage_at(
    at: datetime,
    born_at: datetime,
    limits: TemperatureLimits,
    ages: AgeParameters,
    *,
    zone: str,
    gestation_days: int | None,
) -> Stage:
    """Which limits an infant's temperature is judged by.

    Args:
        at: Aware instant at which it was taken.
        born_at: Aware instant of birth.
        limits: Of the content store.
        ages: What 'born preterm' is.
        zone: IANA zone of the birth, in which the day of the month is read.
        gestation_days: At birth; None where it is not known: then months count from birth.
    """
    ends = months_after_birth(born_at, int(limits.fever_until_age_months.value), zone)
    if gestation_days is not None and gestation_days < ages.preterm_before_days.value:
        to_go_d = limits.fever_until_postmenstrual_d.value - gestation_days
        ends = max(ends, born_at + timedelta(days=to_go_d))
    if at < ends:
        return "young"
    six = months_after_birth(born_at, int(limits.high_fever_until_age_months.value), zone)
    return "middle" if at < six else "older"


def is_doubtful_site(site: str | None, age_d: float, limits: TemperatureLimits) -> bool:
    """Whether a reading was taken where the temperature cannot be trusted at that age."""
    return site == STRIP or (site in DOUBTFUL_SITES and age_d < limits.site_until_d.value)


def judge_temperature(
    temperature_c: float,
    limits: TemperatureLimits,
    *,
    age_d: float,
    stage: Stage = "young",
    site: str | None = None,
) -> TemperatureJudgement:
    """A temperature against the limits for young infants.

    Args:
        temperature_c: In °C; plausibility is asked elsewhere.
        limits: Of the content store.
        age_d: Age in days, for the working.
        stage: Past three months the limits are used on, and it is said.
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
    if stage == "middle" and temperature_c >= limits.high_fever_c.value:
        limit = limits.high_fever_c
    elif stage != "young":
        notes.append(
            message(
                "The limits were published for infants of up to {months} months.",
                months=Number(limits.fever_until_age_months.value, 0),
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
