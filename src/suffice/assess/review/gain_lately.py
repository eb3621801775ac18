"""The latest weight against those before it that lie too near to judge a gain by.

A gain is judged over weights far enough apart to tell. A fall since is in it and may be hidden by what
was gained before, so the latest weight is also held against each nearer one: what is surely slow even with
the error of weighing is no calm.

Of many weights the lowest is low by chance and the highest high. So that more weights make it surer and
do not alarm more often, the weights of a day count as their mean, days being counted back from the latest weight.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

import msgspec

from suffice.assess.review.gain_course import GainCourse, GainSpan
from suffice.assess.review.gain_measure import in_share, unanswered_spans
from suffice.assess.review.result import Reviewed, measure
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight.weighing import Weighing


class DayOfWeights(NamedTuple):
    """The weights of one day as one: their mean, at their mean age.

    Attributes:
        mean: The mean; of a single weight that weight.
        weights: Of how many.
    """

    mean: Weighing
    weights: int


def review_lately(course: GainCourse) -> Iterator[Reviewed]:
    """The slowest gain up to the latest day from one nearer than the weight of the judged gain, from term age on.

    And the slowest of those over days enough, which a fast gain before them must not hide.
    """
    place = len(course.series) - 1
    last, judged = course.series[place], course.judged(place)
    if judged is None or course.corrected_d(last.age_h) < 0:
        return
    nearer = [one for one in course.series if judged.span.first.age_h < one.age_h]
    latest, *before = _days(nearer)
    until_h = latest.mean.age_h - course.rules.least_between_h.value
    spans = [
        GainSpan(
            one.mean,
            latest.mean,
            course.gain(one.mean, latest.mean),
            weights=(one.weights, latest.weights),
        )
        for one in before
        if one.mean.age_h <= until_h
    ]
    if not spans:
        return
    slowest = min(spans, key=_upper_g_per_day)
    yield measure("lately_gain_fraction", in_share(course, course.place_of(slowest, tells=False)))
    for name, least in (
        ("lately_slowing_gain_fraction", course.rules.lately_slows_days),
        ("lately_stopped_gain_fraction", course.rules.lately_days),
    ):
        long = unanswered_spans(course, [one for one in spans if one.days >= least.value])
        if long:
            slowest = min(long, key=_upper_g_per_day)
            yield measure(name, in_share(course, course.place_of(slowest, tells=False)))


def _days(weights: Sequence[Weighing]) -> list[DayOfWeights]:
    """The weights day by day, the latest first; each day ends a whole number of days before the latest weight."""
    last_h = weights[-1].age_h

    def days_before(one: Weighing) -> int:
        return int((last_h - one.age_h) // HOURS_PER_DAY)

    return [_mean_of(list(those)) for _, those in groupby(reversed(weights), days_before)]


def _mean_of(weights: Sequence[Weighing]) -> DayOfWeights:
    """The weights as one: their mean, with the latest of them for all else."""
    latest, count = weights[0], len(weights)
    if count == 1:
        return DayOfWeights(latest, 1)
    mean = msgspec.structs.replace(
        latest,
        weight_g=sum(one.weight_g for one in weights) / count,
        age_h=sum(one.age_h for one in weights) / count,
    )
    return DayOfWeights(mean, count)


def _upper_g_per_day(span: GainSpan) -> float:
    """The most that it can have been a day."""
    figure = span.gain.g_per_day
    return figure.value if figure.high is None else figure.high
