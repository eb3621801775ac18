"""Ages against the library `whenever`, which keeps its own arithmetic of zones and changes of clocks.

Known limits of the oracle: it reads the same zone database, so a fault of that would not show.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from whenever import Instant

from suffice.clinical.age import age_h, calendar_age_d

ZONES = ("Europe/Madrid", "America/New_York", "Australia/Lord_Howe", "Africa/Casablanca")
instants = st.datetimes(datetime(2015, 1, 1), datetime(2034, 1, 1)).map(  # noqa: DTZ001
    lambda at: at.replace(tzinfo=UTC, microsecond=0)
)


@given(instants, st.integers(0, 800 * 24 * 60), st.sampled_from(ZONES))
def test_hours_and_dates_agree(born, minutes, zone):
    at = born + timedelta(minutes=minutes)
    there = ZoneInfo(zone)
    first, second = (
        Instant.from_timestamp(int(moment.timestamp())).to_tz(zone) for moment in (born, at)
    )
    elapsed_h = (second - first).total("seconds") / 3600
    assert age_h(born.astimezone(there), at.astimezone(there)) == pytest.approx(elapsed_h)
    days = (second.date().to_stdlib() - first.date().to_stdlib()).days
    assert calendar_age_d(born, at, zone) == days
