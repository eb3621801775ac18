"""From the values that a text may have to a reading: clear, in doubt, or refused."""

from __future__ import annotations

from decimal import Decimal

import pytest

from spoken import text
from suffice.clinical.reading.candidate import Possible, resolve, short, shown, unreadable
from suffice.errors import InputError
from suffice.message import Number, message

SPAN = (300.0, 28000.0)


def possible(value, *, has_unit=True, is_usual=True):
    return Possible(
        value=Decimal(value),
        read_as=message("{value}", value=value),
        has_unit=has_unit,
        is_usual=is_usual,
    )


def resolved(*found, span=SPAN, kind="weight"):
    return resolve("typed", kind, "g", list(found), span)


def refusal(*found, span=SPAN, kind="weight", typed="typed"):
    with pytest.raises(InputError) as caught:
        resolve(typed, kind, "g", list(found), span)
    return caught.value.problems[0]


def test_one_usual_value_with_its_unit_is_clear():
    found = resolved(possible("3280"))
    assert ([one.value for one in found.candidates], found.doubts) == ([3280.0], ())


def test_a_second_reading_that_is_impossible_raises_no_doubt():
    found = resolved(possible("3.28", is_usual=False), possible("3280"))
    assert [one.value for one in found.candidates] == [3280.0]
    assert found.doubts == ()


def test_two_possible_readings_with_a_unit_are_asked():
    found = resolved(possible("328"), possible("3280", is_usual=False))
    assert [one.value for one in found.candidates] == [328.0, 3280.0]
    assert [problem.code for problem in found.doubts] == ["READ-004"]


def test_a_bare_number_is_asked_after_those_with_a_unit():
    found = resolved(possible("328", has_unit=False), possible("3280", is_usual=False))
    assert [one.value for one in found.candidates] == [3280.0, 328.0]
    assert resolved(possible("328", has_unit=False)).doubts[0].code == "READ-003"


def test_the_same_value_read_twice_is_one_candidate():
    assert len(resolved(possible("3280"), possible("3280.0")).candidates) == 1


def test_nothing_readable_and_nothing_possible_are_refused_apart():
    assert refusal().code == "READ-001"
    assert refusal(possible("299.9")).code == "READ-002"
    assert resolved(possible("300")).candidates[0].value == 300
    assert resolved(possible("28000")).candidates[0].value == 28000


@pytest.mark.parametrize(
    ("value", "kind", "is_asked"),
    [("32800", "weight", True), ("3000000", "weight", False), ("32800", "duration", False)],
)
def test_one_digit_too_many_is_asked_where_a_tenth_would_be_possible(value, kind, is_asked):
    said = text(refusal(possible(value), kind=kind).fix)
    assert ("one digit too many" in said) == is_asked


def test_a_long_text_is_not_repeated_whole():
    assert "…" not in text(unreadable("x" * 60, "weight").what)
    assert text(unreadable("x" * 61, "weight").what) == f"'{'x' * 60}…'"


def test_a_huge_limit_is_said_as_a_power_of_ten_and_not_in_the_readers_unit():
    huge = text(refusal(possible("1"), span=(2.0, 1e15)).why)
    assert "1.00E+15 g" in huge
    assert "E+" not in text(refusal(possible("1"), span=(2.0, 1e14)).why)


@pytest.mark.parametrize(
    ("number", "said"),
    [("3.280", "3.28"), ("3", "3"), ("0.005", "0"), ("0.015", "0.02"), ("1E15", "1.00E+15")],
)
def test_numbers_of_a_sentence_have_two_decimals_at_the_most(number, said):
    assert short(Decimal(number)) == said


def test_a_number_for_a_sentence_keeps_its_decimals():
    assert shown(Decimal("3.280")) == Number(3.28, 2)
    assert shown(Decimal(3)) == Number(3.0, 0)
    assert shown(Decimal("1E15")) == "1.00E+15"
