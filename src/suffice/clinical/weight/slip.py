"""What slip of hand or unit would explain a weight that does not fit.

A slip is offered only where the weight it would have been fits; the entered value is never
changed. Known slips: a zero too many or too few, pounds taken for kilograms and the reverse,
ounces taken for grams, and two neighbouring digits swapped.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal

import msgspec

from suffice.clinical.units import (
    DECIMAL_BASE,
    GRAMS_PER_KILOGRAM,
    GRAMS_PER_OUNCE,
    GRAMS_PER_POUND,
)
from suffice.message import Message, message


class Slip(msgspec.Struct, frozen=True, kw_only=True):
    """A weight that may have been meant, and the slip that would have turned it into another."""

    weight_g: float
    words: Message


def likely_slips(
    weight_g: float, fits: Callable[[float], bool], near_g: float | None = None
) -> tuple[Slip, ...]:
    """Slips that would explain a weight, the nearest to `near_g` first.

    Args:
        weight_g: The weight as it was entered.
        fits: Whether a weight would have been plausible.
        near_g: Weight to be near to (the previous one); None keeps the order of commonness.
    """
    if not math.isfinite(weight_g) or weight_g <= 0:
        return ()
    possible = (
        *_by_factor(weight_g),
        *(
            Slip(weight_g=swapped, words=message("two digits swapped"))
            for swapped in _swaps(weight_g)
        ),
    )
    seen: dict[float, Slip] = {}
    for slip in possible:
        if slip.weight_g != weight_g and fits(slip.weight_g):
            seen.setdefault(round(slip.weight_g), slip)
    slips = tuple(seen.values())
    if near_g is None:
        return slips
    return tuple(sorted(slips, key=lambda slip: abs(slip.weight_g - near_g)))


def _by_factor(weight_g: float) -> tuple[Slip, ...]:
    pounds_per_kilogram = GRAMS_PER_KILOGRAM / GRAMS_PER_POUND
    factors: tuple[tuple[Decimal, Message], ...] = (
        (Decimal(1) / DECIMAL_BASE, message("one zero too many")),
        (Decimal(DECIMAL_BASE), message("one zero too few")),
        (1 / pounds_per_kilogram, message("pounds taken for kilograms")),
        (pounds_per_kilogram, message("kilograms taken for pounds")),
        (GRAMS_PER_OUNCE, message("ounces taken for grams")),
        (Decimal(GRAMS_PER_KILOGRAM), message("kilograms taken for grams")),
    )
    entered = Decimal(repr(float(weight_g)))
    return tuple(Slip(weight_g=float(entered * factor), words=words) for factor, words in factors)


def _swaps(weight_g: float) -> tuple[float, ...]:
    """The whole weights that differ by one swap of neighbouring digits."""
    if weight_g != round(weight_g):
        return ()
    digits = str(round(weight_g))
    return tuple(
        float(digits[:at] + digits[at + 1] + digits[at] + digits[at + 2 :])
        for at in range(len(digits) - 1)
        if digits[at] != digits[at + 1] and (at > 0 or digits[1] != "0")
    )
