"""Local times into instants, over both changes of the clock.

Clock changes of 2026 in Europe/Madrid: 29 March 02:00 to 03:00, 25 October 03:00 to 02:00
(EU Directive 2000/84/EC: last Sundays of March and October, 01:00 UTC).
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from suffice.errors import InputError
from suffice.exchange.moment import read_local


def test_ordinary_time_is_one_instant() -> None:
    moment = read_local("2026-11-25T14:30", "Europe/Madrid")
    assert moment.instants == (datetime(2026, 11, 25, 13, 30, tzinfo=UTC),)


def test_time_that_came_twice_is_both_instants_an_hour_apart() -> None:
    moment = read_local("2026-10-25 02:30", "Europe/Madrid")
    assert moment.is_ambiguous
    assert moment.instants == (
        datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
        datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
    )
    assert moment.clock_times() == ("02:30 CEST (UTC+0200)", "02:30 CET (UTC+0100)")


@pytest.mark.parametrize("text", ["2026-03-29T02:00", "2026-03-29T02:59"])
def test_time_that_was_skipped_is_refused(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read_local(text, "Europe/Madrid")
    assert refused.value.problems[0].code == "CLOCK-002"


@pytest.mark.parametrize(
    "text", ["", "noon", "2026-13-01T10:00", "2026-02-30T10:00", "2026-11-25", "2026-11-25T10:00Z"]
)
def test_what_is_no_local_time_is_refused(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read_local(text, "Europe/Madrid")
    assert refused.value.problems[0].code == "CLOCK-001"
