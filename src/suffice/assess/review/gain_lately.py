"""The latest weight against those before it that lie too near to judge a gain by.

A gain is judged over weights far enough apart to tell. A fall since is in it and may be hidden by what
was gained before, so the latest weight is also held against each nearer one: what is surely slow even with
the error of weighing is no calm.
"""

from __future__ import annotations

from collections.abc import Iterator

from suffice.assess.review.gain_course import GainCourse, GainSpan
from suffice.assess.review.gain_measure import in_share
from suffice.assess.review.result import Reviewed, measure


def review_lately(course: GainCourse) -> Iterator[Reviewed]:
    """The slowest gain up to the latest weight from one nearer than that of the judged gain, from term age on."""
    place = len(course.series) - 1
    last, judged = course.series[place], course.judged(place)
    if judged is None or course.corrected_d(last.age_h) < 0:
        return
    until_h = last.age_h - course.rules.least_between_h.value
    nearer = [
        one for one in course.series[:place] if judged.span.first.age_h < one.age_h <= until_h
    ]
    spans = [GainSpan(one, last, course.gain(one, last)) for one in nearer]
    if not spans:
        return
    slowest = min(spans, key=_upper_g_per_day)
    yield measure("lately_gain_fraction", in_share(course, course.place_of(slowest, tells=False)))


def _upper_g_per_day(span: GainSpan) -> float:
    """The most that it can have been a day."""
    figure = span.gain.g_per_day
    return figure.value if figure.high is None else figure.high
