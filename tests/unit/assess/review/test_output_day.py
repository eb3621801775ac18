"""The norm of a count on its way from one day to the next, and the share that a count is of it."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest

from suffice.assess.review.output_day import Day, rising_norm, share_of_norm, share_of_rising
from suffice.clinical.output_count import Count
from unit.assess.review.reviewed import CONTENT

AT = datetime(2026, 3, 4, tzinfo=UTC)


def norm(age_h):
    """1 on days 1 and 2, 3 on days 3 and 4, 5 on days 5 and 6, then 6: as the leaflets have it."""
    day = math.ceil(age_h / 24)
    return float({1: 1, 2: 1, 3: 3, 4: 3, 5: 5, 6: 5}.get(day, 6))


@pytest.mark.parametrize(
    ("age_h", "expected"),
    [
        (24, 1), (48, 1), (51, 1.5), (54, 2), (60, 3), (61, 3), (72, 3), (73, 3), (96, 3), (99, 3.5),
        (108, 5), (150, 5.5), (156, 6), (200, 6),
    ],
)  # fmt: skip
def test_the_norm_rises_over_the_first_half_of_a_day(age_h, expected):
    assert rising_norm(norm, age_h, 12) == expected


def test_it_never_exceeds_the_norm_of_the_day_nor_falls_with_age():
    found = [rising_norm(norm, 24 + step / 10, 12) for step in range(2000)]
    assert found == sorted(found)
    assert all(one <= norm(24 + step / 10) for step, one in enumerate(found))


def test_a_norm_that_rises_in_no_time_is_that_of_the_day():
    assert rising_norm(norm, 48.1, 0) == 3


def test_a_count_is_a_share_of_both_norms_and_one_that_is_not_known_of_none():
    expected = CONTENT.constant("output.older_wets_count_per_day")
    seen = Count(low=2, high=3, until=AT, window_h=24.0, covered_fraction=1.0)
    day = Day(seen, 50.0, expected, 4.0)
    assert share_of_norm(day) == 3 / expected.value
    assert share_of_rising(day) == 0.75
