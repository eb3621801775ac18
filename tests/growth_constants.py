"""Constants for tests of growth, in place of the content store's."""

from __future__ import annotations

from suffice.clinical.age import AgeParameters
from suffice.clinical.growth.assess_gain import VelocityParameters
from suffice.clinical.growth.centile_fall import CentileFallParameters
from suffice.clinical.working import Constant


def constant(key: str, value: float, unit: str) -> Constant:
    return Constant(key=key, value=value, unit=unit, basis="judgement", source="a test")


AGE = AgeParameters(
    term_days=constant("age.term_days", 280, "d"),
    preterm_before_days=constant("age.preterm_before_days", 259, "d"),
    correct_until_days=constant("age.correct_until_days", 730, "d"),
)
# NICE NG75 (2017), recommendation 1.2: one space below the 9th, two from the 9th to the 91st, three
# above the 91st; below the 2nd whatever the birth weight. The age is the test's own choice.
FALL = CentileFallParameters(
    space_z=constant("growth.centile_fall.space_z", 0.67, "1"),
    low_birth_line_spaces=constant("growth.centile_fall.low_birth_line_spaces", -2, "1"),
    high_birth_line_spaces=constant("growth.centile_fall.high_birth_line_spaces", 2, "1"),
    floor_line_spaces=constant("growth.centile_fall.floor_line_spaces", -3, "1"),
    severe_line_spaces=constant("growth.centile_fall.severe_line_spaces", -4, "1"),
    settled_from_age_d=constant("growth.centile_fall.settled_from_age_d", 14, "d"),
    fall_low_birth_spaces=constant("growth.centile_fall.fall_low_birth_spaces", 1, "1"),
    fall_middle_birth_spaces=constant("growth.centile_fall.fall_middle_birth_spaces", 2, "1"),
    fall_high_birth_spaces=constant("growth.centile_fall.fall_high_birth_spaces", 3, "1"),
    from_age_d=constant("growth.centile_fall.from_age_d", 21, "d"),
)
VELOCITY = VelocityParameters(
    tolerance_days=constant("growth.velocity.tolerance_days", 4, "d"),
    short_tolerance_days=constant("growth.velocity.short_tolerance_days", 1, "d"),
)
