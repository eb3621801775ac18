"""Weights of one infant: change from birth, lowest, regain, and gains with their uncertainty.

A clothed weight is shown but not used: it hides a loss. Where it shows one all the
same, it counts, because the true loss can only be greater.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.gain import GAIN_FIGURES, NO_WEIGHT_AFTER_BIRTH, review_gain
from suffice.assess.review.gain_measure import with_notes
from suffice.assess.review.result import (
    Reviewed,
    computed,
    figures,
    measure,
    missing,
    sign,
    together,
)
from suffice.assess.rules.table import Measure
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight import change as weight_change
from suffice.clinical.weight import gain as gains
from suffice.clinical.weight.weighing import Weighing
from suffice.clinical.working import Figure, Working
from suffice.errors import InputError, RefusalError
from suffice.message import Age, Amount, Instant, message

WEIGHT_FIGURES = (
    "change_percent",
    "loss_percent",
    "change_from_24h_percent",
    "nadir_h",
    "nadir_loss_percent",
    "regain_h",
)


def usable(case: Case) -> tuple[Weighing, ...]:
    """The weights that are used, by age."""
    return tuple(one for one in case.weighings if one.clothing != "clothed")


class WeightsReviewed(NamedTuple):
    """What the weights say.

    Attributes:
        reviewed: Figures of change and gain, measures and signs.
        has_risen: Whether the latest weight is above the lowest one.
        tells: Whether the two weights whose gain is judged tell a slow gain from a brisk one; None
            where no gain is judged.
        is_since_birth: Whether that gain is counted from birth weight.
    """

    reviewed: Reviewed
    has_risen: bool = False
    tells: gains.TellApart | None = None
    is_since_birth: bool = False

    @property
    def is_judged(self) -> bool:
        """Whether a loss is put before the table of flags, or a gain is judged."""
        return "loss_percent" in self.reviewed.measures or self.tells is not None


def review_weights(
    case: Case, parameters: CareParameters, *, corrected_age: Figure | None
) -> WeightsReviewed:
    """All figures of weight change and gain.

    Args:
        case: The infant.
        parameters: Noise, ages and rates.
        corrected_age: Age from the expected date of birth, in days; None where it is not known.
    """
    if case.born_at is None:
        return WeightsReviewed(missing(*WEIGHT_FIGURES, *GAIN_FIGURES, why=case.no_birth))
    series = usable(case)
    before = [
        *_review_clothed(case),
        _review_leap(case, series, parameters.plausibility),
        *_review_change(case, series, parameters),
    ]
    gained = review_gain(case, series, parameters, corrected_age)
    reviewed = together([*before, gained.reviewed])
    return WeightsReviewed(reviewed, *gained[1:])


def _review_clothed(case: Case) -> Iterator[Reviewed]:
    clothed = [one for one in case.weighings if one.clothing == "clothed"]
    if clothed:
        last = clothed[-1]
        yield sign(
            "clothed_weight",
            True,  # noqa: FBT003
            age_h=last.age_h,
            entry_ids=(last.entry_id,),
            at=Instant(case.at_age(last.age_h)),
            weight=Amount(last.weight_g, "g"),
        )
        latest = case.weighings[-1]
        naked = [one for one in usable(case) if not one.is_birth]
        yield sign(
            "last_weight_is_clothed",
            latest.clothing == "clothed" and bool(naked),
            age_h=latest.age_h,
            entry_ids=(latest.entry_id,),
            at=Instant(case.at_age(latest.age_h)),
            weight=Amount(latest.weight_g, "g"),
        )


def _review_leap(case: Case, series: tuple[Weighing, ...], limits: PlausibilityLimits) -> Reviewed:
    """Whether the last weight lies above the one before by more than any infant gains in that time."""
    if len(series) < 2:
        return Reviewed()
    before, last = sorted(series[-2:], key=lambda one: (one.age_h, one.weight_g))
    hours = last.age_h - before.age_h
    most_g = max(
        limits.change_doubtful_g.value,
        limits.gain_doubtful_high_g_per_day.value * hours / HOURS_PER_DAY,
    )
    return sign(
        "last_weight_leaps",
        last.weight_g - before.weight_g > most_g,
        age_h=last.age_h,
        entry_ids=(before.entry_id, last.entry_id),
        working=Working(
            formula=message("last weight - weight before, against the most that is believed"),
            constants=(limits.change_doubtful_g, limits.gain_doubtful_high_g_per_day),
        ),
        at=Instant(case.at_age(last.age_h)),
        before=Amount(before.weight_g, "g"),
        weight=Amount(last.weight_g, "g"),
        span=Age(round(hours)),
    )


def _review_change(
    case: Case, series: tuple[Weighing, ...], parameters: CareParameters
) -> Iterator[Reviewed]:
    change = parameters.weight_change
    last = _last_for_loss(case, series)
    if last is None:
        yield missing(*WEIGHT_FIGURES, why=NO_WEIGHT_AFTER_BIRTH)
        return
    yield computed(
        "change_percent",
        lambda: weight_change.change_percent(last, weight_change.birth_reference(series)),
    )
    loss = computed(
        "loss_percent",
        lambda: loss_percent(last, weight_change.birth_reference(series)),
    )
    yield loss
    for name, lost in loss.figures.items():
        found = Measure(
            value=lost.value,
            age_h=last.age_h,
            at=case.at_age(last.age_h),
            figure=lost,
            is_answered=case.answers.cover_weights(last, weight_change.birth_reference(series)),
            entry_ids=(last.entry_id,),
        )
        yield measure(name, found)
    yield computed(
        "change_from_24h_percent",
        lambda: weight_change.change_from_early_reference(last, series, change),
    )
    yield computed("nadir_h", lambda: weight_change.nadir(series, change))
    yield computed("nadir_loss_percent", lambda: _deepest_loss(series))
    yield _review_regain(series, parameters)


def _last_for_loss(case: Case, series: tuple[Weighing, ...]) -> Weighing | None:
    """The latest weight, or a later clothed one that is lower still: the loss is at least that."""
    later = [one for one in series if not one.is_birth]
    last = later[-1] if later else None
    latest = case.weighings[-1] if case.weighings else None
    if latest is None or latest.clothing != "clothed":
        return last
    return latest if last is None or latest.weight_g < last.weight_g else last


def _deepest_loss(series: tuple[Weighing, ...]) -> Figure:
    """The loss at the lowest weight."""
    birth = weight_change.birth_reference(series)
    return loss_percent(min(series, key=lambda one: (one.weight_g, one.age_h)), birth)


def loss_percent(weight: Weighing, birth: Weighing) -> Figure:
    """Loss from birth weight in percent; a gain is negative."""
    change = weight_change.change_percent(weight, birth)
    working = msgspec.structs.replace(
        change.working, formula=message("100 x (birth weight - weight) / birth weight")
    )
    # 0.0 - x rather than -x: no reader should meet a loss of '-0.0 %'.
    return msgspec.structs.replace(change, value=0.0 - change.value, working=working)


def _review_regain(series: tuple[Weighing, ...], parameters: CareParameters) -> Reviewed:
    try:
        back = weight_change.regain(series, parameters.weight_change)
    except (RefusalError, InputError) as refusal:
        return missing("regain_h", why=refusal)
    if back.interpolated_h is not None:
        return figures(regain_h=with_notes(back.interpolated_h, back.caveats))
    if back.never_below:
        return missing("regain_h", why=message("No weight below birth weight was seen."))
    at = Age(back.not_by_h or 0.0)
    still = message("The weight was still below birth weight at {age} of age.", age=at)
    return missing("regain_h", why=still)
