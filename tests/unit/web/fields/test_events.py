"""The events of a feed as lines: read back they are the same."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from suffice.clinical.feed.event import ORDER, FeedEvent
from suffice.web.fields.events import EventsField, events_of, lines_of

EVENTS = st.lists(
    st.builds(FeedEvent, at_ms=st.integers(-(10**9), 10**12), what=st.sampled_from(sorted(ORDER)))
)


@given(EVENTS)
def test_lines_read_back_are_the_same_events_in_the_same_order(found: list[FeedEvent]) -> None:
    assert events_of(lines_of(found)) == tuple(found)


def test_swallows_that_follow_one_another_share_a_line() -> None:
    text = "left 0:00.000\nswallow 0:12.345 1:13.000\ncame off 8:31.200"
    assert lines_of(events_of(text)) == text


@pytest.mark.parametrize(
    ("text", "at_ms"), [("1:02", 62_000), ("1:02.5", 62_500), ("1:02,25", 62_250)]
)
def test_parts_of_a_second_may_be_left_out(text: str, at_ms: int) -> None:
    (found,) = events_of(f"  SWALLOW   {text} \n\n")
    assert found == FeedEvent(at_ms=at_ms, what="swallow")


def test_the_names_of_the_record_are_read_in_every_language() -> None:
    with translation.override("es"):
        assert events_of("away 0:01") == (FeedEvent(at_ms=1000, what="away"),)
        kept = (FeedEvent(at_ms=1, what="swallow"), FeedEvent(at_ms=2, what="off"))
        assert events_of(lines_of(kept)) == kept


@pytest.mark.parametrize(
    "line",
    ["sneeze 0:01", "swallow", "0:01", "swallow 12", "swallow 0:61", "swallow 0:01 then 0:02"],
)
def test_a_line_that_is_no_event_is_named(line: str) -> None:
    with pytest.raises(ValidationError) as refused:
        EventsField().clean(f"left 0:00\n{line}")
    assert line in refused.value.messages[0]
    assert "FORM-011" in refused.value.messages[0]


def test_nothing_written_is_no_event() -> None:
    assert EventsField(required=False).clean("") == ()
