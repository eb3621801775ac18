"""Fall through centile spaces: when a slowing of weight gain is a concern.

A centile space is the distance between neighbouring lines of the nine-line chart (0.4th, 2nd, 9th,
25th, 50th, 75th, 91st, 98th, 99.6th), which stand at equal steps of z. How many spaces count depends
on the birth weight; a weight below the lowest lines counts by itself. For the time after the
first weeks: the newborn's loss and regain have rules of their own.

Source: NICE NG75 Faltering growth (2017), recommendation 1.2.
"""

from __future__ import annotations

from typing import ClassVar

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from suffice.clinical.growth import refuse
from suffice.clinical.growth.standard import Floats
from suffice.clinical.parameters import Parameters
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import Problem, RefusalError
from suffice.message import Age, Message, Number, Words, message


class CentileFallParameters(Parameters, frozen=True, kw_only=True):
    """Thresholds of the fall. Lines are given in centile spaces from the median."""

    topic: ClassVar[str] = "growth.centile_fall"

    space_z: Constant
    """Width of one centile space in z."""
    low_birth_line_spaces: Constant
    """Birth weights below this line (the 9th centile) have the lowest threshold."""
    high_birth_line_spaces: Constant
    """Birth weights above this line (the 91st centile) have the highest threshold."""
    floor_line_spaces: Constant
    """A current weight below this line (the 2nd centile) counts whatever the birth weight."""
    severe_line_spaces: Constant
    """The same of the line (the 0.4th centile) below which undernutrition is likely."""
    fall_low_birth_spaces: Constant
    fall_middle_birth_spaces: Constant
    fall_high_birth_spaces: Constant
    settled_from_age_d: Constant
    """From this age until the thresholds apply a weight may be what the fall is counted from."""
    from_age_d: Constant
    """Age from which the thresholds apply."""


class CentileFall(msgspec.Struct, frozen=True, kw_only=True):
    """What became of an infant's place among the centiles.

    Attributes:
        fall: Centile spaces fallen; negative when the weight rose through the centiles.
        is_fall: The fall reaches the threshold.
        reason: The fall in a sentence.
    """

    fall: Figure
    is_fall: bool
    reason: Words


def fall_spaces(parameters: CentileFallParameters, from_z: ArrayLike, to_z: ArrayLike) -> Floats:
    """Centile spaces fallen from one score to a later one; nan stays nan.

    (from_z - to_z) / space_z, to a billionth of a space, so that a fall of exactly two reads two.
    """
    difference = np.asarray(from_z, dtype=np.float64) - np.asarray(to_z, dtype=np.float64)
    return np.round(difference / parameters.space_z.value, 9)


def centile_fall(
    parameters: CentileFallParameters,
    *,
    birth_z: float,
    from_z: float,
    current_z: float,
    age_d: float,
) -> CentileFall:
    """The fall of one infant from an earlier score to the present one.

    Args:
        parameters: Thresholds.
        birth_z: Score of the birth weight.
        from_z: Score from which the fall is counted: the birth weight's, or an earlier steady one.
        current_z: Score of the present weight, on the same standard as `from_z`: a birth weight
            scored for gestation and a present weight scored for age cannot be subtracted. See
            :func:`suffice.clinical.growth.assess_fall.fall_from_birth`.
        age_d: Age at the present weight.

    Raises:
        RefusalError: GROWTH-008 before the age from which the thresholds apply.
        InputError: GROWTH-002 for a score that is not finite.
    """
    for name, z in (
        (message("birth z"), birth_z),
        (message("earlier z"), from_z),
        (message("present z"), current_z),
    ):
        refuse.finite(name, z)
    if not age_d >= parameters.from_age_d.value:
        raise RefusalError(
            Problem(
                code="GROWTH-008",
                what=message(
                    "A fall through centiles at the age of {age}.", age=Age(age_d * HOURS_PER_DAY)
                ),
                why=message(
                    "These thresholds apply from day {day}; before that every newborn "
                    "loses weight.",
                    day=Number(parameters.from_age_d.value),
                ),
                fix=message("Use the percent lost and the day of regain."),
            )
        )
    spaces = float(fall_spaces(parameters, from_z, current_z))
    threshold, birth = _threshold(parameters, birth_z)
    is_fall = spaces >= threshold.value
    reason: Words = message(
        "The weight has {way} {spaces} centile spaces; with a birth weight {birth}"
        " {threshold} or more is a concern.",
        way=message("fallen") if spaces >= 0 else message("risen"),
        spaces=Number(abs(spaces), 1),
        birth=birth,
        threshold=Number(threshold.value),
    )
    working = Working(
        formula=message("(earlier z - present z) / width of a centile space"),
        inputs=(
            Quantity(name=message("z of the birth weight"), value=birth_z, unit="1"),
            Quantity(name=message("earlier z"), value=from_z, unit="1"),
            Quantity(name=message("present z"), value=current_z, unit="1"),
        ),
        constants=(parameters.space_z, threshold, parameters.floor_line_spaces),
    )
    return CentileFall(
        fall=Figure(value=spaces, unit="1", working=working),
        is_fall=is_fall,
        reason=reason,
    )


def _threshold(parameters: CentileFallParameters, birth_z: float) -> tuple[Constant, Message]:
    if _below(parameters, birth_z, parameters.low_birth_line_spaces):
        return parameters.fall_low_birth_spaces, message("below the 9th centile")
    if _above(parameters, birth_z, parameters.high_birth_line_spaces):
        return parameters.fall_high_birth_spaces, message("above the 91st centile")
    return parameters.fall_middle_birth_spaces, message("from the 9th to the 91st centile")


def _below(parameters: CentileFallParameters, z: ArrayLike, line: Constant) -> NDArray[np.bool_]:
    return np.asarray(np.asarray(z, dtype=np.float64) < line.value * parameters.space_z.value)


def _above(parameters: CentileFallParameters, z: ArrayLike, line: Constant) -> NDArray[np.bool_]:
    return np.asarray(np.asarray(z, dtype=np.float64) > line.value * parameters.space_z.value)
