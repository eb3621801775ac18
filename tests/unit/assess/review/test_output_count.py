"""A count as a figure and in words, and what it says where another entry differs."""

from datetime import UTC, datetime, timedelta

import pytest

from suffice.assess.review.output_count import counted_figure, counted_words, differing_words
from suffice.clinical.output_count import Count, Observation
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of

END = datetime(2026, 3, 20, 9, tzinfo=UTC)


@pytest.mark.parametrize(
    ("kind", "count", "says"),
    [("wet", 1, "1 wet"), ("wet", 0, "0 wets"), ("stool", 1, "1 stool"), ("stool", 3, "3 stools")],
)
def test_so_many_are_said_of_each_kind(kind, count, says):
    assert text_of(counted_words(kind, count), Policy()) == says


@pytest.mark.parametrize(("ago_h", "is_said"), [(24.0, False), (23.9, True), (0.0, True)])
def test_what_was_seen_in_hours_counted_as_none_is_said_with_its_time(ago_h, is_said):
    seen = Observation(count=1, true_at=END - timedelta(hours=ago_h))
    said = differing_words("stool", [seen], END - timedelta(hours=24), END)
    assert [text_of(one, Policy()).startswith("But a stool is noted") for one in said] == [
        True
    ] * is_said


@pytest.mark.parametrize("high", [None, 5])
def test_without_an_upper_bound_the_figure_says_that_diapers_may_be_missing(high):
    seen = Count(low=3, high=high, until=END, window_h=24.0, covered_fraction=0.5)
    figure = counted_figure(seen, "wet")
    assert (figure.value, figure.low, figure.high) == (3.0, 3.0, high)
    notes = [text_of(one, Policy()) for one in figure.working.notes]
    assert bool(notes) is (high is None)
