"""Gains of one infant: the figures with their uncertainty, and what is put before the table of flags.

What the rows ask are shares: how many healthy infants of the age and sex gain less (see
:mod:`suffice.clinical.growth.gain_line`). Before term age no such table holds; there grams count.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.gain_course import (
    GainCourse,
    GainSpan,
    Judged,
    single_weighings,
    uncleared,
)
from suffice.assess.review.gain_lately import review_lately
from suffice.assess.review.gain_measure import (
    in_grams,
    in_share,
    shown_by,
    unanswered_spans,
    width,
    with_span,
)
from suffice.assess.review.gain_month import review_months
from suffice.assess.review.result import Reviewed, figures, measure, missing, together
from suffice.assess.rules.table import Measure, hours_of
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight import gain as gains
from suffice.clinical.weight.weighing import Weighing
from suffice.clinical.working import Figure
from suffice.message import Amount, Message, message

GAIN_FIGURES = (
    "gain_last_g_per_day",
    "gain_since_nadir_g_per_day",
    "gain_g_per_day",
    "gain_g_per_kg_per_day",
)
NO_WEIGHT_AFTER_BIRTH: Final = message("There is no weight after birth.")
NO_GAIN_YET: Final = message("The latest weight is the lowest so far: there is no gain yet.")


class GainsReviewed(NamedTuple):
    """What the weights say of gain.

    Attributes:
        reviewed: Figures of gain, measures and signs.
        has_risen: Whether the latest weight is above the lowest one.
        tells: Whether the two weights whose gain is judged tell a slow gain from a brisk one; None
            where no gain is judged.
        is_since_birth: Whether the gain that is judged is counted from birth weight, so that the loss of the
            first days is part of it.
    """

    reviewed: Reviewed
    has_risen: bool = False
    tells: gains.TellApart | None = None
    is_since_birth: bool = False


def too_close(parameters: CareParameters) -> Message:
    """Why there is no gain yet: the weights lie too near to each other."""
    least = parameters.gain_rules.least_between_h
    return message(
        "A gain needs two weights at least {hours} apart.", hours=Amount(least.value, least.unit)
    )


def says_nothing(gain: Figure) -> Message:
    """Why the gain between two weights is not told though they lie far enough apart in time."""
    return message(
        "The last two weights cannot tell the gain: anything from {low} to {high}.",
        low=Amount(gain.low or 0.0, gain.unit),
        high=Amount(gain.high or 0.0, gain.unit),
    )


def review_gain(
    case: Case,
    series: tuple[Weighing, ...],
    parameters: CareParameters,
    corrected_age: Figure | None,
) -> GainsReviewed:
    """The figures of gain, and the gains that are judged.

    Args:
        case: The infant.
        series: The weights that are used, by age.
        parameters: Noise, lines and limits.
        corrected_age: Age from the expected date of birth, in days; None where it is not known.
    """
    if all(one.is_birth for one in series):
        return GainsReviewed(missing(*GAIN_FIGURES, why=NO_WEIGHT_AFTER_BIRTH))
    course = course_of(case, series, parameters, corrected_age)
    if len(course.series) < 2:
        return GainsReviewed(missing(*GAIN_FIGURES, why=too_close(parameters)))
    latest = len(course.series) - 1
    last = course.series[-1]
    has_risen = course.lowest(latest) is not last
    judged = course.judged(latest)
    parts = [
        *_figures(course, judged, has_risen=has_risen),
        *_judged_by_share(course),
        *_of_first_weeks(course),
        *_of_preterm(course),
        *review_months(course),
        *review_lately(course),
    ]
    tells = course.tells(judged.span.first, last) if judged else None
    from_birth = judged is not None and judged.span.first.is_birth
    return GainsReviewed(together(parts), has_risen, tells, is_since_birth=from_birth)


def course_of(
    case: Case,
    series: tuple[Weighing, ...],
    parameters: CareParameters,
    corrected_age: Figure | None,
) -> GainCourse:
    """The course of gain of an infant; arguments as of :func:`review_gain`."""
    before_term_d = 0.0
    if corrected_age is not None and case.age_h is not None:
        before_term_d = case.age_h / HOURS_PER_DAY - corrected_age.value
    return GainCourse(
        case=case,
        series=single_weighings(series, parameters.gain_rules.one_weighing_h),
        parameters=parameters,
        before_term_d=before_term_d,
    )


def _figures(course: GainCourse, judged: Judged | None, *, has_risen: bool) -> Iterator[Reviewed]:
    """The gains that the page shows, each or the reason why it is not there."""
    latest = len(course.series) - 1
    why = too_close(course.parameters)
    before = course.latest_before(latest, course.rules.least_between_h.value)
    if before is None:
        yield missing("gain_last_g_per_day", why=why)
    else:
        last = course.series[-1]
        span = GainSpan(before, last, course.gain(before, last))
        if _says_nothing(course, span):
            yield missing("gain_last_g_per_day", why=says_nothing(span.gain.g_per_day))
        else:
            yield figures(gain_last_g_per_day=span.gain.g_per_day)
    since = course.since_lowest(latest)
    if has_risen and since is not None:
        yield figures(gain_since_nadir_g_per_day=since.gain.g_per_day)
    else:
        yield missing("gain_since_nadir_g_per_day", why=why if has_risen else NO_GAIN_YET)
    if judged is None:
        yield missing(*GAIN_FIGURES[2:], why=why if has_risen else NO_GAIN_YET)
        return
    yield figures(
        gain_g_per_day=with_span(judged.span, judged.span.gain.g_per_day),
        gain_g_per_kg_per_day=with_span(judged.span, judged.span.gain.g_per_kg_per_day),
    )


def _says_nothing(course: GainCourse, span: GainSpan) -> bool:
    """Whether the interval of a gain holds a loss as well as twice what the middle infant gains."""
    gain = span.gain.g_per_day
    if gain.low is None or gain.high is None or gain.low > 0:
        return False
    middle = course.lines.expected_fraction.value
    expected = course.parameters.gain_lines.line(middle, course.stretch(span))
    return gain.high >= 2 * expected


def _judged_by_share(course: GainCourse) -> Iterator[Reviewed]:
    """The gains from term age on that no good one has ended: the worst, for each thing asked."""
    rules, lines = course.rules, course.lines
    low = [
        one
        for one in uncleared(course, course.judged, lambda one: _ends_slow_gain(one, course))
        if course.corrected_d(one.age_h) >= 0
    ]
    losing = [one for one in low if one.age_h >= hours_of(rules.negative_from_age_d)]
    fresh = unanswered_spans(course, [one.span for one in losing])
    unanswered = [one for one in losing if one.span in fresh]
    if unanswered:
        worst = min(unanswered, key=lambda one: one.span.gain.g_per_day.high or 0.0)
        yield measure("unanswered_gain_g_per_day", in_grams(course, worst.span, fresh))
    held = [
        one
        for one in low
        if hours_of(lines.lines_from_age_d) <= one.age_h < hours_of(rules.until_age_d)
    ]
    unanswered = [one for one in unanswered if one in held]
    border_h = hours_of(rules.older_from_age_d)
    young = [one for one in held if one.age_h < border_h]
    older = [one for one in held if one.age_h >= border_h]
    measures: dict[float, Measure] = {}
    for name, found, worth in (
        ("unanswered_gain_fraction", unanswered, _upper_end),
        ("surely_low_gain_fraction", held, _upper_end),
        ("low_gain_fraction", young, _value),
        ("older_low_gain_fraction", older, _value),
    ):
        if found:
            worst = min(found, key=worth)
            if worst.age_h not in measures:
                measures[worst.age_h] = in_share(course, worst)
            yield measure(name, shown_by(course, measures[worst.age_h], found))
    latest = course.judged(len(course.series) - 1)
    may_be_slow = latest is not None and latest.share_low < lines.look_fraction.value
    if latest is not None and latest in held and not latest.tells and may_be_slow:
        yield measure("gain_half_width_g_per_day", width(course, latest.span))


def _upper_end(one: Judged) -> float:
    return one.share_high


def _value(one: Judged) -> float:
    return one.share


def _ends_slow_gain(one: Judged, course: GainCourse) -> bool:
    """Whether a gain is good enough, and its weights far enough apart, to end an earlier slow one."""
    return one.tells and one.share >= course.lines.note_fraction.value


def _of_first_weeks(course: GainCourse) -> Iterator[Reviewed]:
    """The slowest gain since the lowest weight from day 6 to 21 that no good one has ended."""
    gestation = course.case.birth.gestation_days if course.case.birth else None
    from_days = course.case.content.constant("age.late_preterm_from_days").value
    if gestation is not None and gestation < from_days:
        return
    clear = course.rules.first_week_clear_g_per_day.value
    until_h = hours_of(course.rules.first_weeks_until_age_d)

    def since_lowest(place: int) -> GainSpan | None:
        found = course.since_lowest(place)
        # Counted from the birth weight there is no lowest one: the loss of the first days is in it.
        return None if found is None or found.first.is_birth else found

    slow = [
        one
        for one in uncleared(course, since_lowest, lambda one: one.gain.g_per_day.value >= clear)
        if hours_of(course.rules.first_week_from_age_d) <= one.last.age_h < until_h
    ]
    if slow:
        yield measure("first_weeks_gain_g_per_day", in_grams(course, _slowest(slow), slow))


def _of_preterm(course: GainCourse) -> Iterator[Reviewed]:
    """The gain of an infant born preterm, until shortly after term age."""
    if course.before_term_d <= 0:
        return
    rules = course.rules
    clear, until_d = rules.late_preterm_g_per_day.value, rules.late_preterm_until_corrected_d.value
    slow = [
        one.span
        for one in uncleared(
            course, course.judged, lambda one: one.span.gain.g_per_day.value >= clear
        )
        if course.corrected_d(one.age_h) < until_d
    ]
    if slow:
        yield measure("gain_of_preterm_g_per_day", in_grams(course, _slowest(slow), slow))
    week_h = hours_of(rules.negative_from_age_d)
    unanswered = [one for one in unanswered_spans(course, slow) if one.last.age_h >= week_h]
    if unanswered:
        worst = min(unanswered, key=lambda one: one.gain.g_per_day.high or 0.0)
        yield measure("unanswered_gain_of_preterm_g_per_day", in_grams(course, worst, unanswered))
    yield from _of_unit(course)


def _of_unit(course: GainCourse) -> Iterator[Reviewed]:
    """The gain over a week before term age, until one is as the unit aims for."""
    rules = course.rules
    if course.corrected_d(course.series[-1].age_h) >= 0:
        return

    def over_a_week(place: int) -> GainSpan | None:
        first = course.latest_before(place, hours_of(rules.unit_least_days))
        last = course.series[place]
        return None if first is None else GainSpan(first, last, course.gain(first, last))

    aim = rules.unit_aim_g_per_kg_per_day.value
    open_ = uncleared(course, over_a_week, lambda one: one.gain.g_per_kg_per_day.value >= aim)
    from_h = hours_of(course.lines.lines_from_age_d)
    asked = [one for one in open_ if one.last.age_h >= from_h]
    if not asked:
        return
    span = min(asked, key=lambda one: one.gain.g_per_kg_per_day.value)
    by_weight = span.gain.g_per_kg_per_day
    yield measure(
        "gain_of_preterm_g_per_kg_per_day",
        msgspec.structs.replace(in_grams(course, span), value=by_weight.value, figure=by_weight),
    )


def _slowest(spans: Iterable[GainSpan]) -> GainSpan:
    return min(spans, key=lambda one: one.gain.g_per_day.value)
