"""How a question about one infant's growth is refused: the problems, each with its remedy."""

from __future__ import annotations

import math

from suffice.clinical.entry import Sex
from suffice.clinical.growth.standard import NAME_OF, SAID_OF, UNIT_OF, Measure, StandardName
from suffice.clinical.units import DAYS_PER_WEEK
from suffice.errors import InputError, Problem, RefusalError
from suffice.message import Amount, Message, Number, Param, message


def known_sex(sex: Sex | None) -> bool:
    """Whether the infant is a boy.

    Raises:
        RefusalError: GROWTH-001 when the sex is not known.
    """
    if sex is None:
        raise RefusalError(
            Problem(
                code="GROWTH-001",
                what=message("The sex is not known."),
                why=message("Growth standards are by sex; there is none for both together."),
                fix=message("Enter the sex with the birth facts, or look at both charts."),
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
                what=message(
                    "A {measure} of {value}.",
                    measure=SAID_OF[measure],
                    value=_shown(value, UNIT_OF[measure]),
                ),
                why=message("A measurement must be a finite number above 0."),
                fix=message("Enter what was measured, or leave the field empty."),
                where=NAME_OF[measure],
            )
        )
    return value


def finite(name: Message, value: float) -> float:
    """The value itself.

    Raises:
        InputError: GROWTH-002 unless it is finite.
    """
    if not math.isfinite(value):
        raise InputError(
            Problem(
                code="GROWTH-002",
                what=message("A {measure} of {value}.", measure=name, value=f"{value:g}"),
                why=message("It must be a finite number."),
                fix=message("Enter what was measured, or leave the field empty."),
                where=str(name),
            )
        )
    return value


def outside(what: Message, standard: Message, first: Param, last: Param) -> RefusalError:
    """GROWTH-003: an age, gestation or length that the standard does not cover."""
    return RefusalError(
        Problem(
            code="GROWTH-003",
            what=message("{what}.", what=what),
            why=message(
                "{standard} covers {first} to {last}.", standard=standard, first=first, last=last
            ),
            fix=message(
                "Check the dates and the measurement; outside this range no score is given."
            ),
        )
    )


def no_curve(what: Message) -> RefusalError:
    """GROWTH-004: the curve has no value or score there."""
    return RefusalError(
        Problem(
            code="GROWTH-004",
            what=message("{what}.", what=what),
            why=message("It is past the end of the standard's curve."),
            fix=message("Check the measurement; a value as far out as this has no score."),
        )
    )


def no_interval(start_d: float, end_d: float, offered: Message, tolerance_d: float) -> RefusalError:
    """GROWTH-005: WHO published no centiles for this interval."""
    return RefusalError(
        Problem(
            code="GROWTH-005",
            what=message(
                "A gain from day {start} to day {end}.",
                start=Number(round(start_d, 1)),
                end=Number(round(end_d, 1)),
            ),
            why=message(
                "WHO gives centiles of gain only for {offered} (each end within "
                "{tolerance} days; from birth, the birth weight itself).",
                offered=offered,
                tolerance=Number(tolerance_d),
            ),
            fix=message("Choose weights nearer to the ends of such an interval, or use g/day."),
        )
    )


def no_group(what: Message, why: Message) -> RefusalError:
    """GROWTH-006: the table by birth weight has no figure there."""
    return RefusalError(
        Problem(
            code="GROWTH-006",
            what=what,
            why=why,
            fix=message(
                "Ask without a birth weight for the figures of all infants together, or use g/day."
            ),
        )
    )


def too_early(pma_d: float, first_d: int) -> RefusalError:
    """GROWTH-007: no postnatal standard for an infant this immature."""
    return RefusalError(
        Problem(
            code="GROWTH-007",
            what=message(
                "{what}.",
                what=message("A postmenstrual age of {weeks}", weeks=weeks_and_days(pma_d)),
            ),
            why=message(
                "No standard of growth after birth begins before {weeks}.",
                weeks=weeks_and_days(first_d),
            ),
            fix=message("Follow the weights themselves with the neonatal team until then."),
        )
    )


def two_standards(then: StandardName, now: StandardName) -> RefusalError:
    """GROWTH-009: scores on two standards cannot be subtracted."""
    return RefusalError(
        Problem(
            code="GROWTH-009",
            what=message("A fall from a score on {then} to one on {now}.", then=then, now=now),
            why=message(
                "Two standards have different lines; part of the difference would be theirs."
            ),
            fix=message("Compare with an earlier weight that is read on the same standard."),
        )
    )


def weeks_and_days(days: float) -> Message:
    """Completed weeks and days, as the trade writes them: 34+2 weeks."""
    weeks, rest = divmod(math.floor(days), DAYS_PER_WEEK)
    return message("{weeks} weeks", weeks=f"{weeks}+{rest}")


def _shown(value: float, unit: str) -> Param:
    """An amount; what is not a number as it stands."""
    return Amount(value, unit) if math.isfinite(value) else f"{value:g}"
