"""Numbers as people write them, without their unit."""

from __future__ import annotations

from decimal import Decimal

import pytest

from suffice.clinical.reading.numeral import LONGEST, readings, tidy


def values(numeral, mark="."):
    return [(str(one.value), one.is_usual) for one in readings(numeral, mark)]


@pytest.mark.parametrize(
    ("written", "tidied"),
    [
        ("  3 280 G ", "3 280 g"),
        ("٣٢٨٠", "3280"),
        ("٣٫٢٨", "3.28"),
        ("٣٬٢٨٠", "3'280"),
        ("3\N{RIGHT SINGLE QUOTATION MARK}280", "3'280"),
        ("\N{MINUS SIGN}5", "-5"),
        ("4½", "4 1/2"),
        ("4 ½", "4 1/2"),
        ("3\N{NO-BREAK SPACE}280", "3 280"),
        ("3\t\n280", "3 280"),
        ("", ""),
    ],
)
def test_a_text_is_brought_to_plain_digits_and_single_spaces(written, tidied):
    assert tidy(written) == tidied


def test_a_text_longer_than_any_value_is_none():
    assert tidy("1" * LONGEST) == "1" * LONGEST
    assert tidy("1" * (LONGEST + 1)) == ""


@pytest.mark.parametrize(
    ("numeral", "value"),
    [
        ("3280", "3280"),
        ("3 280", "3280.0"),
        ("3'280,5", "3280.5"),
        ("1.234,5", "1234.5"),
        ("1,234.5", "1234.5"),
        ("1.234.567", "1234567"),
        ("1,234,567", "1234567"),
        ("3.28", "3.28"),
        (",5", "0.5"),
        ("0.125", "0.125"),
        ("1234.567", "1234.567"),
        ("1/2", "0.5"),
        ("4 1/2", "4.5"),
    ],
)
def test_what_has_one_reading_is_sure(numeral, value):
    (found,) = readings(numeral, ".")
    assert found.value == Decimal(value)
    assert found.is_usual


@pytest.mark.parametrize(
    "numeral", ["", "kg", "1/0", "4 1/0", "1.2.3", "1.234.5", "1,23,456", "-", "1."]
)
def test_what_is_no_number_has_no_reading(numeral):
    assert readings(numeral, ".") == ()


def test_three_digits_after_a_mark_may_be_thousands_and_the_readers_own_comes_first():
    assert values("3.280", ".") == [("3.280", True), ("3280", False)]
    assert values("3.280", ",") == [("3280", True), ("3.280", False)]
    assert values("3,280", ",") == [("3.280", True), ("3280", False)]


def test_a_minus_sign_turns_every_reading():
    assert values("-3.280", ".") == [("-3.280", True), ("-3280", False)]
    assert values("-1/2", ".") == [("-0.5", True)]
    assert values("--5", ".") == [("5", True)]
