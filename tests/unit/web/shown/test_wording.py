"""Numbers and times in the clinic's words."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.knowledge.policy import Policy
from suffice.web.shown.wording import Wording

METRIC = Wording(policy=Policy(zone="Europe/Madrid"))
POUNDS = Wording(policy=Policy(weight_unit="lb oz", volume_unit="fl oz", temperature_unit="F"))
SPANISH = Wording(policy=Policy(language="es"))


@pytest.mark.parametrize(
    ("said", "text"),
    [
        (METRIC.weight(3280), "3280\u00a0g"),
        (METRIC.weight(-62.4), "\u221262\u00a0g"),
        (POUNDS.weight(3280), "7\u00a0lb 3.7\u00a0oz"),
        (METRIC.daily(446.4), "446\u00a0mL/day"),
        (POUNDS.volume(60), "2.0\u00a0fl oz"),
        (METRIC.temperature(38.44), "38.4\u00a0°C"),
        (POUNDS.temperature(38), "100.4\u00a0°F"),
        (SPANISH.temperature(38.4), "38,4\u00a0°C"),
        (METRIC.quantity(-1.804, "1"), "\u22121.80"),
        (METRIC.quantity(35.94, "g/d"), "36\u00a0g/day"),
        (METRIC.quantity(6, "{#}/d"), "6"),
    ],
)
def test_quantity_is_said_in_the_clinics_unit(said: object, text: str) -> None:
    assert str(said) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0.04, "0.0"), (-0.04, "0.0"), (3.31, "+3.3"), (-12, "\u221212.0")]
)
def test_change_has_a_sign_unless_it_is_nothing(value: float, text: str) -> None:
    assert METRIC.change(value) == text


@pytest.mark.parametrize(
    ("age_h", "text"),
    [
        (0.4, "0 h"),
        (1.9, "1 h"),
        (71.99, "71 h"),
        (72, "3 days"),
        (311.99, "12 days"),
        (42 * 24, "6 weeks"),
        (45 * 24, "6 weeks 3 days"),
    ],
)
def test_age_is_said_in_completed_units(age_h: float, text: str) -> None:
    assert METRIC.age(age_h) == text


def test_time_is_that_of_the_clinics_clock_and_says_which_when_it_came_twice() -> None:
    assert METRIC.when(datetime(2026, 11, 25, 13, 30, tzinfo=UTC)) == "Wed 25 Nov 2026, 14:30"
    assert METRIC.when(datetime(2026, 10, 25, 0, 30, tzinfo=UTC)) == "Sun 25 Oct 2026, 02:30 CEST"
    assert METRIC.when(datetime(2026, 10, 25, 1, 30, tzinfo=UTC)) == "Sun 25 Oct 2026, 02:30 CET"


@given(st.floats(min_value=-1e6, max_value=1e6, allow_nan=False))
def test_number_never_shows_a_hyphen_for_a_minus_nor_minus_nothing(value: float) -> None:
    text = METRIC.number(value, 1)
    assert "-" not in text
    assert text != "\u22120.0"
