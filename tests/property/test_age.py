"""Ages do not depend on how an instant is written, and change of clocks never bends them."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.clinical.age import age_h, calendar_age_d, day_of_life, elapsed_h

ZONES = (
    "UTC",
    "Europe/Madrid",
    "America/New_York",
    "America/St_Johns",
    "Australia/Lord_Howe",  # changes by half an hour
    "Asia/Kathmandu",
    "Africa/Casablanca",  # clocks go back for Ramadan
    "Pacific/Apia",
)
zones = st.sampled_from(ZONES).map(ZoneInfo)
instants = st.datetimes(datetime(2015, 1, 1), datetime(2035, 1, 1)).map(  # noqa: DTZ001
    lambda at: at.replace(tzinfo=UTC, microsecond=0)
)
spans_h = st.integers(0, 3 * 365 * 24 * 60).map(lambda minutes: minutes / 60)


@given(instants, spans_h, zones, zones)
def test_the_zone_in_which_an_instant_is_written_changes_nothing(born, hours, here, there):
    at = born + timedelta(hours=hours)
    assert age_h(born.astimezone(here), at.astimezone(there)) == pytest.approx(hours, abs=1e-6)


@given(instants, spans_h, zones)
def test_age_in_one_zone_is_age_in_utc(born, hours, zone):
    at = born + timedelta(hours=hours)
    assert age_h(born.astimezone(zone), at.astimezone(zone)) == age_h(born, at)


@given(instants, spans_h, st.timedeltas(-timedelta(days=900), timedelta(days=900)), zones)
def test_moving_both_instants_changes_nothing(born, hours, shift, zone):
    at = born + timedelta(hours=hours)
    moved = elapsed_h((born + shift).astimezone(zone), (at + shift).astimezone(zone))
    assert moved == pytest.approx(hours, abs=1e-6)


@given(instants, spans_h, spans_h)
def test_ages_add_up(born, first, second):
    middle = born + timedelta(hours=first)
    end = middle + timedelta(hours=second)
    assert elapsed_h(born, end) == pytest.approx(
        elapsed_h(born, middle) + elapsed_h(middle, end), abs=1e-6
    )
    assert elapsed_h(born, end) == -elapsed_h(end, born)


@given(instants, spans_h, zones)
def test_calendar_age_is_within_a_day_and_an_hour_of_age(born, hours, zone):
    days = calendar_age_d(born, born + timedelta(hours=hours), zone.key)
    # Two local dates differ by at most one more than elapsed days; a skipped local day (the
    # Samoan one of 2011 lies before this range) would break it.
    assert abs(days - hours / 24) < 1 + 1 / 24


@given(spans_h)
def test_day_of_life_steps_every_24_hours(hours):
    assert day_of_life(hours + 24) == day_of_life(hours) + 1
    assert 24 * (day_of_life(hours) - 1) <= hours < 24 * day_of_life(hours)
