"""Weight against birth weight: how much was lost, when it was lowest, when it was back.

A change is signed (loss is negative); a *loss* is the same number turned round, positive. Both
references are offered, because sources disagree on which to use: the birth weight (all charts) or
the 24-hour weight (after the first fluids are gone). Decisions are taken on the birth weight.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import ClassVar

import msgspec
import numpy as np
import numpy.typing as npt

from suffice.clinical.parameters import Parameters
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight.weighing import Weighing, in_order
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import InputError, Problem, RefusalError
from suffice.message import Amount, Message, Number, message


class WeightChangeParameters(Parameters, frozen=True, kw_only=True):
    """Which weights count as what."""

    topic: ClassVar[str] = "weight_change"

    early_reference_h: Constant
    """Age of the early reference weight: 24 h."""
    early_reference_window_h: Constant
    """How far from it a weight may be and still count as the 24-hour weight."""
    first_weight_late_h: Constant
    """Age after which a first weight comes too late to show the early loss."""
    gap_late_h: Constant
    """Gap between weights above which a nadir or a regain is only roughly known."""


class Regain(msgspec.Struct, frozen=True, kw_only=True):
    """When the weight was back at the birth weight.

    Attributes:
        first_seen_h: Age of the first weight at or above birth weight after one below; None when
            not back yet.
        interpolated_h: Age at which the straight line between the two weights about it crosses;
            its interval runs from the last weight below to the first at or above.
        not_by_h: Age of the last weight, where it was still below.
        never_below: True when no weight below birth weight was seen, so there is nothing to regain.
        caveats: What limits the answer, in words.
    """

    first_seen_h: float | None = None
    interpolated_h: Figure | None = None
    not_by_h: float | None = None
    never_below: bool = False
    caveats: tuple[Message, ...] = ()


def changes_percent(weight_g: npt.ArrayLike, reference_g: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Change of weights from references, in percent of the reference; loss is negative.

    ``100 (weight - reference) / reference``

    Args:
        weight_g: Weights in g, any shape; nan = not known.
        reference_g: References in g, broadcast against them; nan or not above 0 gives nan.
    """
    weight = np.asarray(weight_g, dtype=np.float64)
    reference = np.asarray(reference_g, dtype=np.float64)
    usable = np.where(reference > 0, reference, np.nan)
    change: npt.NDArray[np.float64] = 100 * (weight - usable) / usable
    return change


def change_percent(weight: Weighing, reference: Weighing) -> Figure:
    """Change of one weight from a reference, in percent; loss is negative.

    Raises:
        InputError: WEIGHT-022 for a reference that is not above 0 g.
    """
    if reference.weight_g <= 0:
        raise InputError(
            Problem(
                code="WEIGHT-022",
                what=message(
                    "a reference weight of {weight}", weight=Amount(reference.weight_g, "g")
                ),
                why=message("cannot be divided by."),
                fix=message("Correct the reference weight."),
            )
        )
    name = (
        message("birth weight")
        if reference.is_birth
        else message("weight at {age}", age=Amount(reference.age_h, "h"))
    )
    return Figure(
        value=100 * (weight.weight_g - reference.weight_g) / reference.weight_g,
        unit="%",
        working=Working(
            formula=message("100 x (weight - {reference}) / {reference}", reference=name),
            inputs=(
                Quantity(name=message("weight"), value=weight.weight_g, unit="g"),
                Quantity(name=message("age at that weight"), value=weight.age_h, unit="h"),
                Quantity(name=name, value=reference.weight_g, unit="g"),
            ),
        ),
    )


def birth_reference(series: Sequence[Weighing]) -> Weighing:
    """The birth weight.

    Raises:
        RefusalError: WEIGHT-023 when none was entered: the first later weight never stands in.
    """
    for weighing in series:
        if weighing.is_birth:
            return weighing
    raise RefusalError(
        Problem(
            code="WEIGHT-023",
            what=message("a change from birth weight"),
            why=message("is not known: no birth weight is known, and no later weight replaces it."),
            fix=message("Ask for the birth weight, or use the weights since the first one."),
        )
    )


def early_reference(
    series: Sequence[Weighing], parameters: WeightChangeParameters
) -> Weighing | None:
    """The weight that counts as the 24-hour weight: the nearest to 24 h within the window.

    Of two equally near the later one counts. The birth weight never does. None when no weight
    lies in the window.
    """
    centre = parameters.early_reference_h.value
    near = [
        weighing
        for weighing in series
        if not weighing.is_birth
        and abs(weighing.age_h - centre) <= parameters.early_reference_window_h.value
    ]
    return min(near, key=lambda one: (abs(one.age_h - centre), -one.age_h), default=None)


def change_from_early_reference(
    weight: Weighing, series: Sequence[Weighing], parameters: WeightChangeParameters
) -> Figure:
    """Change from the 24-hour weight, in percent.

    Raises:
        RefusalError: WEIGHT-024 when no weight lies in the window, or `weight` is earlier than it.
    """
    reference = early_reference(series, parameters)
    if reference is None or reference.age_h > weight.age_h:
        raise RefusalError(
            Problem(
                code="WEIGHT-024",
                what=message("a change from the 24-hour weight"),
                why=(
                    message(
                        "is not known: no weight was taken within {window} of "
                        "{age} of age and before the weight asked about.",
                        window=Amount(parameters.early_reference_window_h.value, "h"),
                        age=Amount(parameters.early_reference_h.value, "h"),
                    )
                ),
                fix=message("Use the change from birth weight."),
            )
        )
    figure = change_percent(weight, reference)
    constants = (parameters.early_reference_h, parameters.early_reference_window_h)
    return msgspec.structs.replace(
        figure, working=msgspec.structs.replace(figure.working, constants=constants)
    )


def _after_birth(ordered: Sequence[Weighing], what: Message) -> list[Weighing]:
    """The weights after birth.

    Args:
        ordered: Weights in order of age.
        what: What is asked and cannot be told without any.

    Raises:
        RefusalError: WEIGHT-025 when there is none.
    """
    later = [weighing for weighing in ordered if not weighing.is_birth]
    if not later:
        raise RefusalError(
            Problem(
                code="WEIGHT-025",
                what=what,
                why=message("is not known: there is no weight after birth."),
                fix=message("Weigh."),
            )
        )
    return later


def nadir(series: Sequence[Weighing], parameters: WeightChangeParameters) -> Figure:
    """Age in hours at the lowest weight seen; the interval runs to the weights on either side.

    Of equal lowest weights the first counts. When the lowest is the last weight, the true low may
    be still to come, and the interval has no upper end.

    Raises:
        RefusalError: WEIGHT-025 without a weight after birth.
    """
    ordered = in_order(series)
    later = _after_birth(ordered, message("a lowest weight"))
    lowest = min(ordered, key=lambda one: (one.weight_g, one.age_h))
    place = ordered.index(lowest)
    before = ordered[place - 1].age_h if place > 0 else None
    after = ordered[place + 1].age_h if place + 1 < len(ordered) else None
    notes = list(_first_weight_caveat(later[0], parameters))
    if after is None:
        notes.append(message("The lowest weight is the last one: the weight may still be falling."))
    if before is not None and after is not None and after - before > parameters.gap_late_h.value:
        notes.append(
            message("Weights are far apart here: the true low may be well to either side.")
        )
    return Figure(
        value=lowest.age_h,
        unit="h",
        low=before,
        high=after,
        working=Working(
            formula=message(
                "age at the lowest weight seen; interval = the weights before and after it"
            ),
            inputs=(Quantity(name=message("lowest weight"), value=lowest.weight_g, unit="g"),),
            constants=(parameters.first_weight_late_h, parameters.gap_late_h),
            notes=tuple(notes),
        ),
    )


def regain(series: Sequence[Weighing], parameters: WeightChangeParameters) -> Regain:
    """When the weight was first back at the birth weight.

    Raises:
        RefusalError: WEIGHT-023 without a birth weight, WEIGHT-025 without a weight after birth.
    """
    ordered = in_order(series)
    birth = birth_reference(ordered)
    later = _after_birth(ordered, message("the return to birth weight"))
    caveats = list(_first_weight_caveat(later[0], parameters))
    below = next((w for w in later if w.weight_g < birth.weight_g), None)
    if below is None:
        caveats.append(message("No weight below birth weight was seen."))
        return Regain(never_below=True, caveats=tuple(caveats))
    return _crossing(later[later.index(below) :], birth, parameters, caveats)


def _crossing(
    since: Sequence[Weighing],
    birth: Weighing,
    parameters: WeightChangeParameters,
    caveats: list[Message],
) -> Regain:
    """The first return to birth weight in weights that begin with one below it."""
    for left, right in pairwise(since):
        if right.weight_g < birth.weight_g:
            continue
        if right.age_h - left.age_h > parameters.gap_late_h.value:
            caveats.append(message("Weights are far apart here: the day is only roughly known."))
        if any(w.weight_g < birth.weight_g for w in since[since.index(right) :]):
            caveats.append(message("A later weight is below birth weight again."))
        return Regain(
            first_seen_h=right.age_h,
            interpolated_h=_interpolated(left, right, birth, parameters),
            caveats=tuple(caveats),
        )
    return Regain(not_by_h=since[-1].age_h, caveats=tuple(caveats))


def _interpolated(
    left: Weighing, right: Weighing, birth: Weighing, parameters: WeightChangeParameters
) -> Figure:
    """Where the straight line between two weights reaches the birth weight, in h."""
    share = (birth.weight_g - left.weight_g) / (right.weight_g - left.weight_g)
    return Figure(
        value=left.age_h + share * (right.age_h - left.age_h),
        unit="h",
        low=left.age_h,
        high=right.age_h,
        working=Working(
            formula=message(
                "straight line between the last weight below and the first at or above"
            ),
            inputs=(
                Quantity(name=message("last weight below"), value=left.weight_g, unit="g"),
                Quantity(name=message("its age"), value=left.age_h, unit="h"),
                Quantity(name=message("first weight at or above"), value=right.weight_g, unit="g"),
                Quantity(name=message("its age"), value=right.age_h, unit="h"),
                Quantity(name=message("birth weight"), value=birth.weight_g, unit="g"),
            ),
            constants=(parameters.gap_late_h,),
        ),
    )


def _first_weight_caveat(
    first: Weighing, parameters: WeightChangeParameters
) -> tuple[Message, ...]:
    """What to say when the first weight after birth came late."""
    if first.age_h <= parameters.first_weight_late_h.value:
        return ()
    days = first.age_h / HOURS_PER_DAY
    return (
        message(
            "The first weight after birth was taken at {days} days: the early loss was not seen.",
            days=Number(days, 1),
        ),
    )
