"""Amounts, ages and instants in each clinic's units, marks and language."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.clinical.working import Constant
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.amounts import (
    UNITS,
    age_text,
    ago_text,
    amount,
    amount_text,
    constant_text,
    day_text,
    instant_text,
    local_number,
    signed,
    unit_text,
)

METRIC = Policy()
POUNDS = Policy(weight_unit="lb oz", volume_unit="fl oz", temperature_unit="F")
KILOGRAMS = Policy(weight_unit="kg")
SPANISH = Policy(language="es")
MADRID = ZoneInfo("Europe/Madrid")


@pytest.mark.parametrize(
    ("value", "unit", "policy", "text"),
    [
        (3280, "g", METRIC, "3280\u00a0g"),
        (3280, "g", KILOGRAMS, "3280\u00a0g"),
        (3280, "g", POUNDS, "7\u00a0lb 3.7\u00a0oz"),
        (-62.4, "g", METRIC, "\u221262\u00a0g"),
        (60, "mL", POUNDS, "2.0\u00a0fl oz"),
        (446.4, "mL/d", METRIC, "446\u00a0mL/day"),
        (446.4, "mL/d", POUNDS, "15.1\u00a0fl oz/day"),
        (446.4, "mL/d", SPANISH, "446\u00a0mL/día"),
        (38.4, "Cel", SPANISH, "38,4\u00a0°C"),
        (38, "Cel", POUNDS, "100.4\u00a0°F"),
        (50.2, "cm", SPANISH, "50,2\u00a0cm"),
        (10.25, "%", METRIC, "10.3\u00a0%"),
        (35.94, "g/d", METRIC, "36\u00a0g/day"),
        (7.25, "g/kg/d", SPANISH, "7,3\u00a0g/kg/día"),
        (1, "d", METRIC, "1\u00a0day"),
        (14, "d", SPANISH, "14\u00a0días"),
        (-1.804, "1", METRIC, "\u22121.80"),
        (6, "{#}/d", METRIC, "6"),
        (3, "count", METRIC, "3"),
        (71.5, "h", SPANISH, "71,5\u00a0h"),
    ],
)
def test_an_amount_is_read_in_the_clinics_unit_and_marks(
    value: float, unit: str, policy: Policy, text: str
) -> None:
    assert str(amount(value, unit, policy)) == text
    assert amount_text(value, unit, policy).replace(" ", "\u00a0") == text.replace(" ", "\u00a0")


def test_decimals_that_are_asked_for_never_bring_a_stored_unit_back() -> None:
    assert str(amount(7.2, "g", METRIC, decimals=1)) == "7.2\u00a0g"
    assert str(amount(7.2, "g", POUNDS, decimals=1)) == "0.3\u00a0oz"
    assert str(amount(38.44, "Cel", METRIC, decimals=2)) == "38.44\u00a0°C"
    assert str(amount(38.44, "Cel", POUNDS, decimals=2)) == "101.2\u00a0°F"


def test_no_code_of_a_unit_of_the_content_reaches_a_reader() -> None:
    for unit in load().units:
        for language in ("en", "es"):
            said = unit_text(unit, language)
            assert not any(sign in said for sign in "{}#"), unit
            assert said not in {"Cel", "count", "1"}, unit
            assert not said.endswith("/d"), unit
    assert unit_text("d", "en", number="1") == "day"


def test_every_named_unit_is_one_of_the_content_or_made_from_one() -> None:
    assert UNITS.keys() - load().units.keys() <= {*("fl oz/d", "/d", "percent", "{#}/d", "count")}


@pytest.mark.parametrize(
    ("age_h", "english", "spanish"),
    [
        (0.4, "0 h", "0 h"),
        (71.99, "71 h", "71 h"),
        (72, "3 days", "3 días"),
        (41.9 * 24, "41 days", "41 días"),
        (42 * 24, "6 weeks", "6 semanas"),
        (43 * 24, "6 weeks 1 day", "6 semanas 1 día"),
        (182.9 * 24, "26 weeks", "26 semanas"),
        (183 * 24, "6 months", "6 meses"),
        (366 * 24, "12 months", "12 meses"),
    ],
)
def test_an_age_is_said_in_completed_units(age_h: float, english: str, spanish: str) -> None:
    assert age_text(age_h) == english
    assert age_text(age_h, "es") == spanish


def test_how_long_ago() -> None:
    assert [ago_text(h) for h in (1.5, 47.9, 48, 50)] == [
        "1 h ago",
        "47 h ago",
        "2 days ago",
        "2 days ago",
    ]
    assert ago_text(72, "es") == "hace 3 días"


def test_an_instant_is_that_of_the_clinics_clock_and_says_which_where_it_comes_twice() -> None:
    at = datetime(2026, 11, 25, 8, 30, tzinfo=UTC)
    assert instant_text(at, MADRID) == "Wed 25 Nov, 09:30"
    assert instant_text(at, MADRID, "es", year=True) == "mié 25 nov 2026, 09:30"
    twice = [datetime(2026, 10, 25, hour, 30, tzinfo=UTC) for hour in (0, 1)]
    assert [instant_text(one, MADRID)[-4:].strip() for one in twice] == ["CEST", "CET"]
    assert day_text(date(2026, 5, 4), "es") == "lun 4 may"


def test_a_constant_keeps_its_digits_and_its_sources_unit() -> None:
    constant = Constant(key="a.b", value=0.25, unit="g/kg/d", basis="derived", source="x")
    assert constant_text(constant, "es") == "0,25\u00a0g/kg/día"


@given(st.floats(min_value=-1e6, max_value=1e6, allow_nan=False), st.integers(0, 3))
def test_a_number_has_a_true_minus_and_never_one_before_nothing(value: float, places: int) -> None:
    for language in ("en", "es"):
        text = local_number(value, places, language)
        assert "-" not in text
        assert any(digit in text for digit in "123456789") or "\u2212" not in text
        assert ("." in text) is (places > 0 and language == "en")


def test_a_sign_stands_only_before_something() -> None:
    assert [signed(text, value) for text, value in (("0.0", 0.04), ("3.3", 3.3))] == ["0.0", "+3.3"]
    assert signed("\u221212.0", -12) == "\u221212.0"
