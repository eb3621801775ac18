"""Amounts in each clinic's units, marks and language."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.clinical.working import Constant
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.amounts import (
    UNITS,
    amount,
    amount_text,
    constant_text,
    kept_together,
    local_number,
    signed,
    unit_text,
)

METRIC = Policy()
POUNDS = Policy(weight_unit="lb oz", volume_unit="fl oz", temperature_unit="F")
KILOGRAMS = Policy(weight_unit="kg")
SPANISH = Policy(language="es")


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


@pytest.mark.parametrize(
    ("text", "bound"),
    [
        ("Only 2 wets in 24 h; 9.1 % lost", "Only 2 wets in 24~h; 9.1~% lost"),
        ("12 g/day in 24 hours, 6 days", "12~g/day in 24 hours, 6 days"),
        ("7 lb 3.7 oz, 2.0 fl oz, 38,4 °C", "7~lb 3.7~oz, 2.0~fl oz, 38,4~°C"),
        ("on day 5 go home; 2 healthy infants", "on day 5 go home; 2 healthy infants"),
        ("1 now, 0 in a less urgent group", "1 now, 0 in a less urgent group"),
        ("310 µmol/L at 60 h", "310~µmol/L at 60~h"),
        ("looks wrong (> 99 %), &lt; 1 %", "looks wrong (>~99~%), &lt;~1~%"),
        ("", ""),
    ],
)
def test_no_line_ends_between_a_number_and_its_unit(text: str, bound: str) -> None:
    assert kept_together(text) == bound.replace("~", "\u00a0")


@given(st.text(alphabet="0123456789 hg%mLdays.,", max_size=40))
def test_only_spaces_are_exchanged_and_once_is_enough(text: str) -> None:
    once = kept_together(text)
    assert once.replace("\u00a0", " ") == text.replace("\u00a0", " ")
    assert kept_together(once) == once
