"""A count as a figure and in words, and what it says where a diaper was noted in hours of none."""

from __future__ import annotations

from datetime import timedelta

import pytest

from spoken import in_sentences
from suffice.assess.review.output_count import counted_figure, counted_words, differing_words
from suffice.clinical.output_count import Count, Observation
from suffice.message import Instant
from unit.assess.review.reviewed import instant

END = instant("92 h")
START = END - timedelta(hours=24)


def seen(before_end_h: float) -> Observation:
    return Observation(count=1, true_at=END - timedelta(hours=before_end_h))


@pytest.mark.parametrize(
    ("kind", "number", "says"),
    [("wet", 1, "1 wet"), ("wet", 0, "0 wets"), ("stool", 1, "1 stool"), ("stool", 3, "3 stools")],
)
def test_a_count_is_said_with_its_kind(kind, number, says):
    assert in_sentences([counted_words(kind, number)]).lower() == says


@pytest.mark.parametrize(
    ("before_h", "is_said"), [(24, False), (23.9, True), (0, True), (-1, False)]
)
def test_what_was_noted_within_the_hours_is_said_to_differ(before_h, is_said):
    said = differing_words("wet", [seen(before_h)], START, END)
    assert bool(said) is is_said


def test_of_several_the_latest_is_named_by_its_kind():
    (said,) = differing_words("stool", [seen(20), seen(3), seen(8)], START, END)
    assert said.values["at"] == Instant(END - timedelta(hours=3))
    assert "stool" in said.template
    assert differing_words("stool", [], START, END) == ()


@pytest.mark.parametrize(("high", "notes"), [(4, 0), (None, 1)])
def test_a_figure_keeps_both_bounds_and_notes_where_diapers_may_be_missing(high, notes):
    count = Count(low=2, high=high, until=END, window_h=24.0, covered_fraction=1.0)
    figure = counted_figure(count, "wet")
    assert (figure.value, figure.low, figure.high) == (2.0, 2.0, high)
    assert len(figure.working.notes) == notes
