"""Milk taken in a feed, from weights just before and just after it.

The infant breathes and sweats water away while it feeds, so the bare difference is too small; the
loss is put back. What is measured is a mass, so the volume follows through the milk's density.
The standard error is the technique's as it was published, together with this scale's own steps:
one test weight in ward routine is uncertain by more than many early feeds are large.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import ClassVar, Literal

import msgspec
from scipy.special import ndtri

from suffice.clinical.parameters import Parameters
from suffice.clinical.units import (
    GRAMS_PER_KILOGRAM,
    MINUTES_PER_HOUR,
    UNIFORM_VARIANCE_DIVISOR,
)
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import InputError, Problem, RefusalError
from suffice.message import Amount, Message, Number, message

Technique = Literal["careful", "ward"]
"""'careful': one good scale, settled infant, nothing changed between; 'ward': as it comes."""


class TestWeightParameters(Parameters, frozen=True, kw_only=True):
    """What a transfer needs."""

    __test__: ClassVar[bool] = False  # keeps pytest from collecting it
    topic: ClassVar[str] = "test_weight"

    evaporation_g_per_kg_per_h: Constant
    """Insensible loss at the breast."""
    milk_density_g_per_ml: Constant
    careful_sd_g: Constant
    """SD of one test weight (the difference of two weights) with strict technique."""
    ward_sd_g: Constant
    """The same in ward routine."""
    level_fraction: Constant
    """Level of the interval."""


class Transfer(msgspec.Struct, frozen=True, kw_only=True):
    """Milk taken in one feed.

    Attributes:
        volume_ml: The transfer with its interval; may be negative, and then says so.
        se_ml: Its standard error.
        is_corrected: Whether insensible loss was put back (it needs the feed's minutes).
        problems: What to ask about; empty when nothing is odd.
    """

    volume_ml: Figure
    se_ml: float
    is_corrected: bool
    problems: tuple[Problem, ...] = ()


def transfer(
    before_g: float,
    after_g: float,
    parameters: TestWeightParameters,
    *,
    minutes: float | None,
    same_clothes: bool | None,
    technique: Technique = "ward",
    resolution_g: float = 0.0,
) -> Transfer:
    """Milk taken between two weights, in mL.

    ``mL = (after - before + loss) / density``, ``loss = k x before_kg x hours``,
    ``se = sqrt(sd^2 + 2 resolution^2 / 12) / density``

    Args:
        before_g: Weight just before the feed.
        after_g: Weight just after it.
        parameters: Evaporation, density and the technique's errors.
        minutes: From the first weight to the second; None = not known: nothing is put back and
            the transfer is said to be too low.
        same_clothes: False refuses; None = not asked, and is said.
        technique: How the weights were taken.
        resolution_g: Step of the scale; 0 takes the technique's published error alone.

    Raises:
        InputError: TEST-001 for a weight not above 0 g, TEST-002 for negative minutes.
        RefusalError: TEST-003 when clothes or diaper were changed between the weights.
    """
    _check(before_g, after_g, minutes, same_clothes=same_clothes)
    hours = (minutes or 0.0) / MINUTES_PER_HOUR
    k, density = parameters.evaporation_g_per_kg_per_h, parameters.milk_density_g_per_ml
    loss_g = k.value * before_g / GRAMS_PER_KILOGRAM * hours
    volume = (after_g - before_g + loss_g) / density.value
    sd = parameters.careful_sd_g if technique == "careful" else parameters.ward_sd_g
    se_g = math.sqrt(sd.value**2 + 2 * resolution_g**2 / UNIFORM_VARIANCE_DIVISOR)
    se = se_g / density.value
    notes: list[Message] = []
    if minutes is None:
        notes.append(
            message("The minutes are not known: evaporation is not put back, so this is too low.")
        )
    if same_clothes is None:
        notes.append(message("Whether the clothes and diaper stayed the same was not asked."))
    if volume < 0:
        notes.append(
            message("A transfer below zero is not possible: it shows weighing error, not milk.")
        )
    working = Working(
        formula=message("(after - before + evaporation x kg x h) / density"),
        inputs=(
            Quantity(name=message("before"), value=before_g, unit="g"),
            Quantity(name=message("after"), value=after_g, unit="g"),
            Quantity(name=message("evaporated"), value=loss_g, unit="g"),
            Quantity(name=message("scale step"), value=resolution_g, unit="g"),
        ),
        constants=(k, density, sd, parameters.level_fraction),
        notes=tuple(notes),
    )
    figure = _figure(volume, se, "mL", parameters.level_fraction, working)
    return Transfer(
        volume_ml=figure,
        se_ml=se,
        is_corrected=minutes is not None,
        problems=_oddities(figure, before_g, after_g),
    )


def sum_of(transfers: Sequence[Transfer], parameters: TestWeightParameters) -> Figure:
    """Milk taken in several test-weighed feeds, in mL; errors add in squares.

    Negative transfers are summed as they are: leaving them out would push the sum up.

    Raises:
        InputError: TEST-004 for an empty sequence: no test weight is not no milk.
    """
    if not transfers:
        raise InputError(
            Problem(
                code="TEST-004",
                what=message("a sum of test weights"),
                why=message("is not known: there are none, and that is not the same as no milk."),
                fix=message("Weigh before and after the feeds of 24 hours."),
            )
        )
    total = math.fsum(one.volume_ml.value for one in transfers)
    se = math.sqrt(math.fsum(one.se_ml**2 for one in transfers))
    notes: tuple[Message, ...] = ()
    if not all(one.is_corrected for one in transfers):
        notes = (message("Some feeds are not corrected for evaporation: the sum is too low."),)
    working = Working(
        formula=message("sum of the transfers; se = sqrt(sum of squared standard errors)"),
        inputs=tuple(
            Quantity(name=message("transfer"), value=one.volume_ml.value, unit="mL")
            for one in transfers
        ),
        constants=(parameters.level_fraction,),
        notes=notes,
    )
    return _figure(total, se, "mL", parameters.level_fraction, working)


def _figure(value: float, se: float, unit: str, level: Constant, working: Working) -> Figure:
    half = float(ndtri((1 + level.value) / 2)) * se
    return Figure(
        value=value,
        unit=unit,
        working=working,
        low=value - half,
        high=value + half,
        level=level.value,
    )


def _oddities(figure: Figure, before_g: float, after_g: float) -> tuple[Problem, ...]:
    """A fall in weight that error alone does not explain."""
    if figure.high is None or figure.high >= 0:
        return ()
    return (
        Problem(
            code="TEST-005",
            what=message(
                "{before} before and {after} after the feed",
                before=Amount(before_g, "g"),
                after=Amount(after_g, "g"),
            ),
            why=message("is a fall that the error of weighing does not explain."),
            fix=message("Were the weights swapped, or was the diaper changed between them?"),
            doubtful=True,
        ),
    )


def _check(
    before_g: float, after_g: float, minutes: float | None, *, same_clothes: bool | None
) -> None:
    for weight_g in (before_g, after_g):
        if not weight_g > 0:
            raise InputError(
                Problem(
                    code="TEST-001",
                    what=message("a weight of {weight}", weight=Amount(weight_g, "g")),
                    why=message("is not above 0 g."),
                    fix=message("Correct the weight."),
                )
            )
    if minutes is not None and minutes < 0:
        raise InputError(
            Problem(
                code="TEST-002",
                what=message("{minutes} minutes", minutes=Number(minutes)),
                why=message("between the weights is negative."),
                fix=message("Correct the minutes."),
            )
        )
    if same_clothes is False:
        raise RefusalError(
            Problem(
                code="TEST-003",
                what=message("a transfer"),
                why=message(
                    "is not known: the clothes or the diaper were changed between the weights."
                ),
                fix=message("Weigh both times in exactly the same clothes and diaper."),
            )
        )
