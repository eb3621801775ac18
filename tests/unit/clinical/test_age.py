from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from clinical_constants import constant
from suffice.clinical.age import (
    AgeParameters,
    age_d,
    age_h,
    calendar_age_d,
    corrected_age_d,
    day_of_life,
    elapsed_h,
)
from suffice.errors import InputError, RefusalError

MADRID = ZoneInfo("Europe/Madrid")
PARAMETERS = AgeParameters(
    term_days=constant(280, "d"),
    preterm_before_days=constant(259, "d"),
    correct_until_days=constant(730, "d"),
)


def test_a_night_in_which_clocks_go_forward_is_an_hour_shorter():
    born = datetime(2026, 3, 28, 22, 0, tzinfo=MADRID)
    assert age_h(born, datetime(2026, 3, 29, 22, 0, tzinfo=MADRID)) == 23.0


def test_a_night_in_which_clocks_go_back_is_an_hour_longer():
    born = datetime(2026, 10, 24, 22, 0, tzinfo=MADRID)
    assert age_h(born, datetime(2026, 10, 25, 22, 0, tzinfo=MADRID)) == 25.0


def test_the_hour_that_is_lived_twice_is_told_apart():
    first = datetime(2026, 10, 25, 2, 30, tzinfo=MADRID, fold=0)
    again = datetime(2026, 10, 25, 2, 30, tzinfo=MADRID, fold=1)
    assert elapsed_h(first, again) == 1.0


def test_an_instant_without_a_zone_is_refused():
    naive = datetime(2026, 3, 1, 6, 0)  # noqa: DTZ001
    with pytest.raises(InputError, match="AGE-001"):
        age_h(naive, datetime(2026, 3, 1, 7, 0, tzinfo=UTC))


def test_an_instant_before_birth_is_refused():
    born = datetime(2026, 3, 1, 6, 0, tzinfo=UTC)
    with pytest.raises(InputError, match="AGE-002"):
        age_h(born, born - timedelta(minutes=1))
    with pytest.raises(InputError, match="AGE-002"):
        day_of_life(-0.1)


@pytest.mark.parametrize(("hours", "day"), [(0, 1), (23.99, 1), (24, 2), (71.9, 3), (72, 4)])
def test_day_one_is_the_first_24_hours(hours, day):
    assert day_of_life(hours) == day


def test_calendar_age_counts_local_dates_not_hours():
    born = datetime(2026, 3, 1, 23, 50, tzinfo=UTC)
    soon = datetime(2026, 3, 2, 0, 10, tzinfo=UTC)
    assert calendar_age_d(born, soon, "UTC") == 1
    assert calendar_age_d(born, soon, "Europe/Madrid") == 0
    assert age_d(born, soon) == pytest.approx(1 / 72)


def test_corrected_age_takes_off_the_days_before_term():
    figure = corrected_age_d(238, 50 * 24, PARAMETERS)
    assert figure.value == 50 - 42
    assert {one.value for one in figure.working.constants} == {280, 259, 730}


def test_age_is_corrected_up_to_and_with_its_last_day():
    assert corrected_age_d(238, 730 * 24, PARAMETERS).value == 730 - 42


@pytest.mark.parametrize(("gestation", "age_days"), [(259, 10), (238, 730.01), (238, 731)])
def test_corrected_age_is_refused_where_it_is_not_used(gestation, age_days):
    with pytest.raises(RefusalError, match="AGE-003"):
        corrected_age_d(gestation, age_days * 24, PARAMETERS)
