"""Weights of one infant on one time line, and how far each can be trusted.

A :class:`Weighing` is a weight with its age; :func:`weighings` takes them from a record's
entries, the birth weight first. :class:`WeightNoise` says how much a weight wavers for reasons
that are not growth: the scale's steps, and what is in the infant's gut and bladder.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import ClassVar
from uuid import UUID

import msgspec

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Birth, Entry, Weight, about
from suffice.clinical.parameters import Parameters
from suffice.clinical.units import UNIFORM_VARIANCE_DIVISOR
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import InputError, Problem
from suffice.message import Amount, message


class Weighing(msgspec.Struct, frozen=True, kw_only=True):
    """One weight at one age. `is_birth` marks the weight given with the birth facts."""

    age_h: float
    weight_g: float
    scale: str | None = None
    clothing: str | None = None
    is_birth: bool = False
    entry_id: UUID | None = None


class WeightNoise(Parameters, frozen=True, kw_only=True):
    """Why two weights of an infant that has not grown differ."""

    topic: ClassVar[str] = "weight_noise"

    within_infant_sd_g: Constant
    """SD of one weight about the infant's own course: naked, one scale, good technique."""
    uncontrolled_sd_g: Constant
    """The same where clothing, time of day or scale were not controlled."""
    scale_resolution_g: Constant
    """Step of the scale where it is not known."""


def weighings(entries: Iterable[Entry], infant_id: UUID) -> tuple[Weighing, ...]:
    """The weights of one infant in order of age, the birth weight first.

    Entries are those that stand (Record.entries_at). A birth weight counts at age 0 whenever it was
    really taken; weight entries at age 0 beside it are kept.

    Raises:
        InputError: WEIGHT-020 when there are no birth facts; WEIGHT-021 for a weight before birth.
    """
    own = about(entries, infant_id)
    births = [entry for entry in own if type(entry.fact) is Birth]
    if not births:
        raise InputError(
            Problem(
                code="WEIGHT-020",
                what=message("the weights"),
                why=message("come without a time of birth, so their ages are not known."),
                fix=message("Enter the birth facts."),
            )
        )
    born = births[-1]
    found: list[Weighing] = []
    for entry in own:
        if type(entry.fact) is Weight:
            hours = elapsed_h(born.true_at, entry.true_at)
            if hours < 0:
                raise InputError(_before_birth(entry.fact.weight_g, -hours))
            found.append(
                Weighing(
                    age_h=hours,
                    weight_g=entry.fact.weight_g,
                    scale=entry.device,
                    clothing=entry.fact.clothing,
                    entry_id=entry.id,
                )
            )
    facts = born.fact
    if isinstance(facts, Birth) and facts.birth_weight_g is not None:
        found.append(
            Weighing(
                age_h=0.0,
                weight_g=facts.birth_weight_g,
                scale=born.device,
                is_birth=True,
                entry_id=born.id,
            )
        )
    return tuple(sorted(found, key=lambda one: (one.age_h, not one.is_birth, str(one.entry_id))))


def _before_birth(weight_g: float, hours: float) -> Problem:
    return Problem(
        code="WEIGHT-021",
        what=message("the weight of {weight}", weight=Amount(weight_g, "g")),
        why=message("is dated {hours} before birth.", hours=Amount(hours, "h", decimals=1)),
        fix=message("Correct its time, or the time of birth."),
    )


def is_comparable(first: Weighing, second: Weighing) -> bool:
    """Whether two weights were taken alike: one known scale, and not clothed."""
    return (
        first.scale is not None
        and first.scale == second.scale
        and "clothed" not in (first.clothing, second.clothing)
    )


def single_weight_se_g(
    noise: WeightNoise, *, resolution_g: float | None = None, controlled: bool = True
) -> Figure:
    """Standard error of one weight as a mark of the infant's own course, in g.

    ``se = sqrt(sd^2 + resolution^2 / 12)``

    Args:
        noise: Within-infant wavering.
        resolution_g: Step of the scale; None takes the content's usual step.
        controlled: False takes the wider SD of weights not taken alike.
    """
    spread = noise.within_infant_sd_g if controlled else noise.uncontrolled_sd_g
    step = noise.scale_resolution_g.value if resolution_g is None else resolution_g
    se = math.sqrt(spread.value**2 + step**2 / UNIFORM_VARIANCE_DIVISOR)
    used = (spread,) if resolution_g is not None else (spread, noise.scale_resolution_g)
    return Figure(
        value=se,
        unit="g",
        working=Working(
            formula=message("se = sqrt(within-infant sd^2 + scale step^2 / 12)"),
            inputs=(Quantity(name=message("scale step"), value=step, unit="g"),),
            constants=used,
        ),
    )


def in_order(series: Sequence[Weighing]) -> tuple[Weighing, ...]:
    """The weighings by age; equal ages keep the birth weight first."""
    return tuple(sorted(series, key=lambda one: (one.age_h, not one.is_birth)))
