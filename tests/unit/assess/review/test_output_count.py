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
