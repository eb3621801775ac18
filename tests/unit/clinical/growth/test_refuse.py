"""Each refusal of a question about growth: its code, and that it names what was asked."""

from __future__ import annotations

import math

import pytest

from spoken import in_sentences, text
from suffice.clinical.growth import refuse
from suffice.errors import InputError, RefusalError
from suffice.message import message


def test_the_sex_decides_the_chart_and_without_it_there_is_none() -> None:
    assert refuse.known_sex("male") is True
    assert refuse.known_sex("female") is False
    with pytest.raises(RefusalError) as refused:
        refuse.known_sex(None)
    assert [one.code for one in refused.value.problems] == ["GROWTH-001"]


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(
    ("measure", "named"), [("weight", "weight"), ("head", "head circumference")]
)
def test_a_measurement_is_a_finite_number_above_0(measure, named: str, value: float) -> None:
    with pytest.raises(InputError) as refused:
        refuse.positive(measure, value)
    (problem,) = refused.value.problems
    assert (problem.code, problem.where) == ("GROWTH-002", named)


def test_what_is_no_number_is_shown_as_it_stands() -> None:
    with pytest.raises(InputError) as refused:
        refuse.positive("weight", math.nan)
    assert "nan" in in_sentences(refused.value.problems[0].what)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_gain_may_be_any_finite_number(value: float) -> None:
    assert refuse.finite(message("gain"), -250.0) == -250.0
    assert refuse.positive("length", 50.0) == 50.0
    with pytest.raises(InputError) as refused:
        refuse.finite(message("gain"), value)
    assert [one.code for one in refused.value.problems] == ["GROWTH-002"]


A = message("An age of 9 years")
WHO = message("WHO")


@pytest.mark.parametrize(
    ("refusal", "code", "names"),
    [
        (refuse.outside(A, WHO, "0 d", "1856 d"), "GROWTH-003", ("9 years", "0 d", "1856 d")),
        (refuse.no_curve(A), "GROWTH-004", ("9 years",)),
        (
            refuse.no_interval(3.4, 40.62, message("1 month"), 4),
            "GROWTH-005",
            ("3.4 to", "40.6", "1 month"),
        ),
        (refuse.no_group(A, WHO), "GROWTH-006", ("9 years", "WHO")),
        (refuse.too_early(180.0, 189), "GROWTH-007", ("25+5 weeks", "27+0 weeks")),
        (
            refuse.two_standards("WHO 2006", "INTERGROWTH-21st postnatal"),
            "GROWTH-009",
            ("WHO 2006", "INTERGROWTH-21st postnatal"),
        ),
    ],
)
def test_a_refusal_names_what_was_asked_and_says_what_to_do(refusal, code, names) -> None:
    (problem,) = refusal.problems
    assert problem.code == code
    says = in_sentences([problem.what, problem.why])
    assert all(name in says for name in names), says
    assert in_sentences(problem.fix)


@pytest.mark.parametrize(
    ("days", "says"),
    [(240, "34+2 weeks"), (238, "34+0 weeks"), (244.9, "34+6 weeks"), (6.9, "0+6 weeks")],
)
def test_weeks_are_completed_ones(days: float, says: str) -> None:
    assert text(refuse.weeks_and_days(days)) == says
