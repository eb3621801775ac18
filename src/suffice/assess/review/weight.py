"""Weights of one infant: change from birth, lowest, regain, and gains with their uncertainty.

A clothed weight is shown but not used: it hides a loss. Where it shows one all the
same, it counts, because the true loss can only be greater.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
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
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight import change as weight_change
from suffice.clinical.weight import gain as gains
from suffice.clinical.weight.weighing import Weighing, WeightNoise
from suffice.clinical.working import Figure
from suffice.errors import InputError, RefusalError
from suffice.message import Age, Amount, Number, Words, message

WEIGHT_FIGURES = (
    "change_percent",
    "loss_percent",
    "change_from_24h_percent",
    "nadir_h",
    "nadir_loss_percent",
    "regain_h",
)
GAIN_FIGURES = (
    "gain_last_g_per_day",
    "gain_since_nadir_g_per_day",
    "gain_g_per_day",
    "gain_g_per_kg_per_day",
)


NO_WEIGHT_AFTER_BIRTH: Final = message("There is no weight after birth.")
ONE_WEIGHT_ONLY: Final = message("There is one weight only: a gain needs two, at different times.")
NO_GAIN_YET: Final = message("The latest weight is the lowest so far: there is no gain yet.")


class GainSpan(NamedTuple):
    """The two weights over which the gain is judged."""

    first: Weighing
    last: Weighing
    gain: gains.Gain


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
    """

    reviewed: Reviewed
    has_risen: bool = False
    tells: gains.TellApart | None = None

    @property
    def is_judged(self) -> bool:
        """Whether a loss, or a gain from term age on, is put before the table of flags."""
        return bool(self.reviewed.measures.keys() & {"loss_percent", "gain_g_per_day"})


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
    before = [*_review_clothed(case), *_review_change(case, series, parameters)]
    gained = _review_gain(case, series, parameters, corrected_age)
    return gained._replace(reviewed=together([*before, gained.reviewed]))


def _review_clothed(case: Case) -> Iterator[Reviewed]:
    clothed = [one for one in case.weighings if one.clothing == "clothed"]
    if clothed:
        last = clothed[-1]
        yield sign(
            "clothed_weight",
            True,  # noqa: FBT003
            age_h=last.age_h,
            entry_ids=(last.entry_id,),
            weight=Amount(last.weight_g, "g"),
        )
        latest = case.weighings[-1]
        naked = [one for one in usable(case) if not one.is_birth]
        yield sign(
            "last_weight_is_clothed",
            latest.clothing == "clothed" and bool(naked),
            age_h=latest.age_h,
            entry_ids=(latest.entry_id,),
            weight=Amount(latest.weight_g, "g"),
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
        return figures(regain_h=_with_notes(back.interpolated_h, back.caveats))
    if back.never_below:
        return missing("regain_h", why=message("No weight below birth weight was seen."))
    at = Age(back.not_by_h or 0.0)
    still = message("The weight was still below birth weight at {age} of age.", age=at)
    return missing("regain_h", why=still)


def _with_notes(figure: Figure, notes: tuple[Words, ...]) -> Figure:
    working = msgspec.structs.replace(figure.working, notes=(*figure.working.notes, *notes))
    return msgspec.structs.replace(figure, working=working)


def _review_gain(
    case: Case,
    series: tuple[Weighing, ...],
    parameters: CareParameters,
    corrected_age: Figure | None,
) -> WeightsReviewed:
    later = [one for one in series if not one.is_birth]
    if not later:
        return WeightsReviewed(missing(*GAIN_FIGURES, why=NO_WEIGHT_AFTER_BIRTH))
    last = later[-1]
    before = [one for one in series if one.age_h < last.age_h]
    if not before:
        return WeightsReviewed(missing(*GAIN_FIGURES, why=ONE_WEIGHT_ONLY))
    since = _since_lowest(series)
    has_risen = since[0].age_h < last.age_h
    parts = [
        figures(gain_last_g_per_day=_gain(case, before[-1], last, parameters).g_per_day),
    ]
    if has_risen:
        gained = _gain(case, since[0], last, parameters)
        parts.append(figures(gain_since_nadir_g_per_day=gained.g_per_day))
    else:
        # Once the early loss should be over, weights that go on falling are judged as they stand.
        turn_h = parameters.weight_change.first_weight_late_h.value
        since = tuple(one for one in later if one.age_h >= turn_h)
        names = GAIN_FIGURES[1:2] if _is_interval(since) else GAIN_FIGURES[1:]
        parts.append(missing(*names, why=NO_GAIN_YET))
        if not _is_interval(since):
            return WeightsReviewed(together(parts))
    span = gain_span(case, since, parameters)
    parts += _judged_gain(case, span, is_term=corrected_age is None or corrected_age.value >= 0)
    tells = _tells(case, span.first, span.last, parameters)
    return WeightsReviewed(together(parts), has_risen=has_risen, tells=tells)


def _judged_gain(case: Case, span: GainSpan, *, is_term: bool) -> Iterator[Reviewed]:
    """The gain that is compared with the limits; no source gives one before term age."""
    g_per_day = _with_span(span, span.gain.g_per_day)
    yield figures(
        gain_g_per_day=g_per_day,
        gain_g_per_kg_per_day=_with_span(span, span.gain.g_per_kg_per_day),
    )
    days = (span.last.age_h - span.first.age_h) / HOURS_PER_DAY
    judged = Measure(
        value=span.gain.g_per_day.value,
        age_h=span.last.age_h,
        at=case.at_age(span.last.age_h),
        figure=g_per_day,
        span=message("over {days} days", days=Number(days, 0)),
        entry_ids=(span.first.entry_id, span.last.entry_id),
    )
    yield measure("gain_g_per_day" if is_term else "gain_before_term_g_per_day", judged)


def _is_interval(series: Sequence[Weighing]) -> bool:
    return bool(series) and series[0].age_h < series[-1].age_h


class Spread(NamedTuple):
    """How far one weight of a pair may be off: the noise at that age, and the scale's step."""

    noise: WeightNoise
    resolution_g: float | None


def _spread(case: Case, first: Weighing, last: Weighing, parameters: CareParameters) -> Spread:
    """The noise of the later weight's age and the coarser step of the clinic's two scales."""
    is_older = last.age_h >= parameters.older_from.value * HOURS_PER_DAY
    known = {scale.name: scale.resolution_g for scale in case.policy.scales}
    steps = [known.get(one.scale or "") for one in (first, last)]
    resolution_g = None if None in steps else max(step for step in steps if step is not None)
    return Spread(parameters.older_noise if is_older else parameters.noise, resolution_g)


def _gain(case: Case, first: Weighing, last: Weighing, parameters: CareParameters) -> gains.Gain:
    noise, step = _spread(case, first, last, parameters)
    return gains.gain(first, last, noise, parameters.gain, resolution_g=step)


def _tells(
    case: Case, first: Weighing, last: Weighing, parameters: CareParameters
) -> gains.TellApart:
    noise, step = _spread(case, first, last, parameters)
    return gains.tells_apart(first, last, noise, parameters.gain, resolution_g=step)


def _since_lowest(series: tuple[Weighing, ...]) -> tuple[Weighing, ...]:
    """The weights from the lowest one on; the birth weight counts only where nothing was lower."""
    lowest = min(series, key=lambda one: (one.weight_g, one.age_h))
    return tuple(one for one in series if one.age_h >= lowest.age_h)


def gain_span(case: Case, since: tuple[Weighing, ...], parameters: CareParameters) -> GainSpan:
    """The shortest interval up to the last weight that tells a slow gain from a brisk one.

    Where none does, the longest. The shortest is the most recent; an interval too short to tell
    would only show the noise of weighing.

    Args:
        case: The infant, for the steps of the clinic's scales.
        since: The weights from the lowest on; the first is earlier than the last.
        parameters: Noise, and the rates to be told apart.
    """
    last = since[-1]
    earlier = [one for one in since[:-1] if one.age_h < last.age_h]
    for first in reversed(earlier):
        if _tells(case, first, last, parameters).can:
            break
    else:
        first = earlier[0]
    return GainSpan(first, last, _gain(case, first, last, parameters))


def _with_span(span: GainSpan, figure: Figure) -> Figure:
    """The gain with a note of the interval and of why it was taken."""
    days = (span.last.age_h - span.first.age_h) / HOURS_PER_DAY
    note = message(
        "Taken over {days} days up to the last weight: the shortest interval since the lowest"
        " weight that tells a slow gain from a brisk one, or the longest there is.",
        days=Number(days, 1),
    )
    return _with_notes(figure, (note,))
