"""How a question about one infant's growth is refused: the problems, each with its remedy."""

from __future__ import annotations

import math

from suffice.clinical.entry import Sex
from suffice.clinical.growth.standard import NAME_OF, UNIT_OF, Measure
from suffice.clinical.units import DAYS_PER_WEEK
from suffice.errors import InputError, Problem, RefusalError


def known_sex(sex: Sex | None) -> bool:
    """Whether the infant is a boy.

    Raises:
        RefusalError: GROWTH-001 when the sex is not known.
    """
    if sex is None:
        raise RefusalError(
            Problem(
                code="GROWTH-001",
                what="The sex is not known.",
                why="Growth standards are by sex; there is none for both together.",
                fix="Enter the sex with the birth facts, or look at both charts.",
            )
        )
    return sex == "male"


def positive(measure: Measure, value: float) -> float:
    """The value itself.

    Raises:
        InputError: GROWTH-002 unless it is a finite number above 0.
    """
    if not (math.isfinite(value) and value > 0):
        raise InputError(
            Problem(
                code="GROWTH-002",
                what=f"A {NAME_OF[measure]} of {value:g} {UNIT_OF[measure]}.",
                why="A measurement must be a finite number above 0.",
                fix="Enter what was measured, or leave the field empty.",
                where=NAME_OF[measure],
            )
        )
    return value


def finite(name: str, value: float, unit: str) -> float:
    """The value itself.

    Raises:
        InputError: GROWTH-002 unless it is finite.
    """
    if not math.isfinite(value):
        raise InputError(
            Problem(
                code="GROWTH-002",
                what=f"A {name} of {value:g} {unit}.",
                why="It must be a finite number.",
                fix="Enter what was measured, or leave the field empty.",
                where=name,
            )
        )
    return value


def outside(what: str, standard: str, first: str, last: str) -> RefusalError:
    """GROWTH-003: an age, gestation or length that the standard does not cover."""
    return RefusalError(
        Problem(
            code="GROWTH-003",
            what=f"{what}.",
            why=f"{standard} covers {first} to {last}.",
            fix="Check the dates and the measurement; outside this range no score is given.",
        )
    )


def no_curve(what: str) -> RefusalError:
    """GROWTH-004: the curve has no value or score there."""
    return RefusalError(
        Problem(
            code="GROWTH-004",
            what=f"{what}.",
            why="It lies beyond the end of the standard's curve.",
            fix="Check the measurement; a value as far out as this has no score.",
        )
    )


def no_interval(start_d: float, end_d: float, offered: str, tolerance_d: float) -> RefusalError:
    """GROWTH-005: WHO published no centiles for this interval."""
    return RefusalError(
        Problem(
            code="GROWTH-005",
            what=f"A gain from day {start_d:g} to day {end_d:g}.",
            why=f"WHO gives centiles of gain only for {offered} "
            f"(each end within {tolerance_d:g} days; from birth, the birth weight itself).",
            fix="Choose weights nearer to the ends of such an interval, or use g/day.",
        )
    )


def no_group(what: str, why: str) -> RefusalError:
    """GROWTH-006: the table by birth weight has no figure there."""
    return RefusalError(
        Problem(
            code="GROWTH-006",
            what=what,
            why=why,
            fix="Ask without a birth weight for the figures of all infants together, or use g/day.",
        )
    )


def too_early(pma_d: float, first_d: int) -> RefusalError:
    """GROWTH-007: no postnatal standard for an infant this immature."""
    return RefusalError(
        Problem(
            code="GROWTH-007",
            what=f"A postmenstrual age of {weeks_and_days(pma_d)}.",
            why=f"No standard of growth after birth begins before {weeks_and_days(first_d)}.",
            fix="Follow the weights themselves with the neonatal team until then.",
        )
    )


def two_standards(then: str, now: str) -> RefusalError:
    """GROWTH-009: scores on two standards cannot be subtracted."""
    return RefusalError(
        Problem(
            code="GROWTH-009",
            what=f"A fall from a score on {then} to one on {now}.",
            why="Two standards have different lines; part of the difference would be theirs.",
            fix="Compare with an earlier weight that is read on the same standard.",
        )
    )


def weeks_and_days(days: float) -> str:
    """Completed weeks and days, as the trade writes them: 34+2 weeks."""
    weeks, rest = divmod(math.floor(days), DAYS_PER_WEEK)
    return f"{weeks}+{rest} weeks"
