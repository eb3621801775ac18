"""Gains of one infant with their uncertainty, and which of them is judged."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, figures, measure, missing, sign, together
from suffice.assess.rules.table import Measure
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight import gain as gains
from suffice.clinical.weight.weighing import Weighing, WeightNoise
from suffice.clinical.working import Figure, Working
from suffice.message import Number, Words, message

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


class GainsReviewed(NamedTuple):
    """What the weights say of gain.

    Attributes:
        reviewed: Figures of gain, measures and signs.
        has_risen: Whether the latest weight is above the lowest one.
        tells: Whether the two weights whose gain is judged tell a slow gain from a brisk one; None
            where no gain is judged.
    """

    reviewed: Reviewed
    has_risen: bool = False
    tells: gains.TellApart | None = None


def review_gain(
    case: Case,
    series: tuple[Weighing, ...],
    parameters: CareParameters,
    corrected_age: Figure | None,
) -> GainsReviewed:
    """The figures of gain, and the gain that is judged.

    Args:
        case: The infant.
        series: The weights that are used, by age.
        parameters: Noise and rates.
        corrected_age: Age from the expected date of birth, in days; None where it is not known.
    """
    later = [one for one in series if not one.is_birth]
    if not later:
        return GainsReviewed(missing(*GAIN_FIGURES, why=NO_WEIGHT_AFTER_BIRTH))
    last = later[-1]
    before = [one for one in series if one.age_h < last.age_h]
    if not before:
        return GainsReviewed(missing(*GAIN_FIGURES, why=ONE_WEIGHT_ONLY))
    since = _since_lowest(series)
    has_risen = since[0].age_h < last.age_h
    parts = [
        figures(gain_last_g_per_day=_gain(case, before[-1], last, parameters).g_per_day),
        sign(
            "latest_weight_is_lowest",
            not has_risen,
            age_h=last.age_h,
            entry_ids=(last.entry_id,),
            working=Working(formula=message("the lowest weight is the latest one")),
        ),
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
            return GainsReviewed(together(parts))
    span = gain_span(case, since, parameters)
    parts += _judged_gain(case, span, is_term=corrected_age is None or corrected_age.value >= 0)
    tells = _tells(case, span.first, span.last, parameters)
    return GainsReviewed(together(parts), has_risen=has_risen, tells=tells)


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
    return with_notes(figure, (note,))


def with_notes(figure: Figure, notes: tuple[Words, ...]) -> Figure:
    """The figure with more notes on how it was found."""
    working = msgspec.structs.replace(figure.working, notes=(*figure.working.notes, *notes))
    return msgspec.structs.replace(figure, working=working)
