"""Hours of the clock as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.clinical.reading.hours import (
    DAY_MINUTES,
    Hours,
    hours_of,
    minutes_of,
    overlapping,
    time_of_day_text,
)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("22:00-06:30", ["22:00-06:30"]),
        ("8.30 to 17", ["08:30-17:00"]),
        ("18–24, 5-7", ["05:00-07:00", "18:00-24:00"]),
        ("6pm-12am; 5-7am", ["05:00-07:00", "18:00-24:00"]),
        ("6-9pm", ["18:00-21:00"]),
        ("10-2pm", ["10:00-14:00"]),
        ("6-12am", ["18:00-24:00"]),
        ("from 7:15 a.m. until 1 p.m.", ["07:15-13:00"]),
        ("de 22 a 6 y 13-14h", ["13:00-14:00", "22:00-06:00"]),
        ("24:00-1:00", ["00:00-01:00"]),
        ("0-24", ["00:00-24:00"]),
        ("", []),
        (None, []),
    ],
)
def test_hours_are_read(text: str | None, said: list[str]) -> None:
    assert [str(one) for one in hours_of(text)] == said


def test_a_stretch_that_ends_before_it_begins_passes_midnight() -> None:
    assert hours_of("22-6") == (Hours(1320, 1800),)
    assert hours_of("8-8")[0].minutes == DAY_MINUTES


@pytest.mark.parametrize(
    "text", ["evening", "25-26", "8:70-9", "13pm-14pm", "8", "0am-3am", "22-6 6"]
)
def test_what_is_no_hours_is_refused_by_name(text: str) -> None:
    with pytest.raises(ValueError, match=text[:2]):
        hours_of(text)


def test_stretches_that_share_a_time_are_found_round_midnight() -> None:
    assert overlapping(hours_of("22-2, 1-3")) == (Hours(60, 180), Hours(1320, 1560))
    assert overlapping(hours_of("18-24, 0-3")) is None


@given(st.integers(0, DAY_MINUTES - 1), st.integers(1, DAY_MINUTES))
def test_what_is_written_is_read_again(start: int, minutes: int) -> None:
    one = Hours(start, start + minutes)
    (read,) = hours_of(str(one))
    assert set(minutes_of(read)) == set(minutes_of(one))
    assert time_of_day_text(read.starts_minutes) == time_of_day_text(start)
