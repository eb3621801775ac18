"""A gain as the table of flags compares it, with what it fills of a sentence and how it was found."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from functools import partial
from typing import Final

import msgspec

from suffice.assess.review.gain_course import GainCourse, GainSpan, Judged
from suffice.assess.rules.table import Measure, ShownSince
from suffice.clinical.working import Figure, Working
from suffice.message import Amount, Instant, Message, Number, Param, Words, message

GAINING: Final = message("Gaining {rate}")
LOSING: Final = message("Losing {rate}")
NO_GAIN: Final = message("No gain")
NEITHER_G_PER_DAY: Final = 0.5
"""Below it a rate is said as none: it would be read as a loss, or a gain, of 0 g a day."""


def unanswered_spans(course: GainCourse, spans: list[GainSpan]) -> list[GainSpan]:
    """Those that no physician has answered: one of the two weights is new, or worse than it was known."""
    answers = course.case.answers
    return [one for one in spans if not answers.cover_weights(one.last, one.first)]


def in_grams(course: GainCourse, span: GainSpan, open_: Sequence[GainSpan] = ()) -> Measure:
    """A gain as the table compares it in g/day.

    Args:
        course: All gains.
        span: The gain.
        open_: All gains that the same is asked of, the latest first.
    """
    return Measure(
        value=span.gain.g_per_day.value,
        age_h=span.last.age_h,
        at=course.case.at_age(span.last.age_h),
        looked_at=looked_at(course),
        shown_since=_shown_since(
            course, [(one.last.age_h, partial(in_grams, course, one)) for one in open_]
        ),
        figure=with_span(span, span.gain.g_per_day),
        is_answered=course.case.answers.cover_weights(span.last, span.first),
        entry_ids=(span.first.entry_id, span.last.entry_id),
        gaps=(*gaps_of(span), ("until", Instant(course.case.at_age(span.last.age_h)))),
        says=tuple(latest_words(course, span)),
    )


def _shown_since(
    course: GainCourse, open_: Sequence[tuple[float, Callable[[], Measure]]]
) -> ShownSince | None:
    """Since when one gain after the other has shown something; None where there is one at most.

    Args:
        course: All gains.
        open_: Age at each gain that the same is asked of, and the gain as it is compared; the latest first.
    """
    if len(open_) < 2:
        return None

    def since(shows: Callable[[Measure], bool]) -> datetime | None:
        shown_h: float | None = None
        if open_[0][0] == course.series[-1].age_h:
            for age_h, compared in open_:
                if not shows(compared()):
                    break
                shown_h = age_h
        return None if shown_h is None else course.case.at_age(shown_h)

    return since


def looked_at(course: GainCourse) -> datetime:
    """When the infant was last weighed."""
    return course.case.at_age(course.series[-1].age_h)


def latest_words(course: GainCourse, span: GainSpan) -> Iterator[Words]:
    """The latest gain, where what is found rests on an earlier one."""
    latest = course.judged(len(course.series) - 1)
    if latest is not None and latest.span.first.age_h >= span.last.age_h:
        rate = latest.span.gain.g_per_day
        yield message("Since then: {rate}.", rate=Amount(rate.value, rate.unit))


def gaps_of(span: GainSpan) -> tuple[tuple[str, Param], ...]:
    """What a gain fills of a sentence: how fast, from what to what, and in how many days."""
    rate = span.gain.g_per_day
    direction = LOSING if rate.value < 0 else GAINING
    is_none = abs(rate.value) < NEITHER_G_PER_DAY
    course = message(
        "{said} ({first} to {last} in {days})",
        said=NO_GAIN if is_none else direction.with_params(rate=Amount(abs(rate.value), rate.unit)),
        first=mean_words(span.first.weight_g, span.weights[0]),
        last=mean_words(span.last.weight_g, span.weights[1]),
        days=message("{count} day", plural="{count} days", count=round(span.days)),
    )
    between = message(
        "{low} to {high}",
        low=Amount(rate.low or 0.0, rate.unit),
        high=Amount(rate.high or 0.0, rate.unit),
    )
    return (("gain", course), ("between", between))


def mean_words(weight_g: float, count: int) -> Param:
    """A weight in words; a mean as such, so that nobody looks for a weight that was never on a scale."""
    weight = Amount(weight_g, "g")
    return (
        weight if count == 1 else message("{weight} (mean of {count})", weight=weight, count=count)
    )


def shown_by(course: GainCourse, found: Measure, open_: Sequence[Judged]) -> Measure:
    """A gain in shares, and since when one after the other of those that are open, the latest first, shows it."""
    each = [(one.age_h, partial(in_share, course, one)) for one in open_]
    return msgspec.structs.replace(found, shown_since=_shown_since(course, each))


def in_share(course: GainCourse, one: Judged) -> Measure:
    """A gain as the table compares it: the share of healthy infants who gain less."""
    span = one.span
    figure = Figure(
        value=one.share,
        low=min(one.share, one.share_low),
        high=one.share_high,
        level=span.gain.g_per_day.level,
        unit="1",
        working=_working(course, span),
    )
    found = in_grams(course, span)
    return msgspec.structs.replace(
        found,
        value=one.share,
        figure=figure,
        gaps=(*found.gaps, *_lines_of(course, span)),
    )


def _lines_of(course: GainCourse, span: GainSpan) -> tuple[tuple[str, Message], ...]:
    """The lines of gain in words: the grams, and the centile of healthy infants of the age."""
    lines = course.lines
    named = (
        ("physician_line", lines.physician_fraction.value),
        ("consultant_line", lines.consultant_fraction.value),
        ("look_line", lines.look_fraction.value),
        ("note_line", lines.note_fraction.value),
    )
    at = course.parameters.gain_lines.over([share for _, share in named], course.stretch(span))
    return tuple(
        (
            name,
            message(
                "{gain} (WHO centile {centile})",
                gain=Amount(g_per_day, "g/d"),
                centile=Number(100 * share, 0),
            ),
        )
        for (name, share), g_per_day in zip(named, at, strict=True)
    )


def _working(course: GainCourse, span: GainSpan) -> Working:
    source = course.parameters.gain_lines.source
    shown = span.gain.g_per_day.working
    note = message(
        "Compared with the WHO velocity tables at the middle of the interval, {age} of age.",
        age=Amount(sum(course.stretch(span)[:2]) / 2, "d"),
    )
    return Working(
        formula=message("share of healthy infants of the age and sex who gain less"),
        inputs=shown.inputs,
        constants=shown.constants,
        notes=(*shown.notes, note, source.note),
    )


def width(course: GainCourse, span: GainSpan) -> Measure:
    """Half the width of an interval, for the row that says that the weights tell nothing."""
    found = in_grams(course, span)
    half = Figure(
        value=span.half_width_g_per_day,
        unit="g/d",
        working=msgspec.structs.replace(
            found.figure.working, formula=message("half the width of the gain's interval")
        ),
    )
    return msgspec.structs.replace(found, value=half.value, figure=half)


def with_span(span: GainSpan, figure: Figure) -> Figure:
    """The gain with a note of the interval and of why it was taken."""
    note = message(
        "Taken over {days} days up to the last weight: the shortest interval since the lowest"
        " weight that can tell a slow gain from a good one, or the longest there is.",
        days=Number(span.days, 1),
    )
    return with_notes(figure, (note,))


def with_notes(figure: Figure, notes: tuple[Words, ...]) -> Figure:
    """The figure with more notes on how it was found."""
    working = msgspec.structs.replace(figure.working, notes=(*figure.working.notes, *notes))
    return msgspec.structs.replace(figure, working=working)
