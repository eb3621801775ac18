"""Whether a thermometer was used when an infant was felt to be hot or cold."""

from __future__ import annotations

import pytest

from spec.vignette import BORN_AT, ZONE, age_of, record_of
from suffice.assess.case import case_of
from suffice.assess.parameters import parameters_of
from suffice.assess.review.felt import review_felt
from suffice.assess.review.result import together
from suffice.assess.review.sign import signs_seen
from suffice.assess.rules.table import Sign
from suffice.assess.rules.truth import Truth
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from unit.assess.review.reviewed import PARAMETERS, a_case

NOT_MEASURED = {"felt_and_measured": Truth.FALSE, "felt_and_measured_again": Truth.FALSE}


def signs(seen: str) -> dict[str, Truth]:
    content, record = load(), record_of("girl, 39+3, 3400 g, vaginal", seen)
    case = case_of(
        record.infants[0],
        "x",
        record.entries,
        as_of=BORN_AT + age_of("20 d"),
        content=content,
        policy=Policy(zone=ZONE),
    )
    entered = signs_seen(case.entries, case.born_at, content)
    found = together(review_felt(case, parameters_of(content), entered)).signs
    return {name: one[0].present for name, one in found.items()}


def test_nothing_is_said_where_nobody_felt_it():
    assert signs("360 h: 37.0 °C") == {}
    assert signs("360 h: no sign feels_hot; 360.5 h: 37.0 °C") == {}


@pytest.mark.parametrize(
    "taken",
    [
        "359.9 h: 37.0 °C",
        "361.1 h: 37.0 °C",
        "360.5 h: 37.5 °C",
        "360.5 h: 36.4 °C",
        "360.5 h: 37.0 °C ear",
        "360.3 h: 37.0 °C; 360.6 h: 37.6 °C",
    ],
)
def test_not_at_once_not_usual_or_not_to_be_trusted_answers_nothing(taken):
    assert signs(f"360 h: sign feels_hot; {taken}") == NOT_MEASURED


def test_a_usual_one_at_once_answers_and_a_second_an_hour_later_ends():
    once = "360 h: sign feels_hot; 360.5 h: 37.4 °C"
    assert signs(once) == {
        "felt_and_measured": Truth.TRUE,
        "felt_and_measured_again": Truth.FALSE,
    }
    assert signs(f"{once}; 361.4 h: 37.0 °C")["felt_and_measured_again"] is Truth.FALSE
    assert signs(f"{once}; 361.5 h: 37.0 °C")["felt_and_measured_again"] is Truth.TRUE


def test_a_second_one_that_is_not_usual_takes_the_answer_back():
    once = "360 h: sign feels_hot; 360.5 h: 37.4 °C"
    assert signs(f"{once}; 361.5 h: 38.0 °C") == NOT_MEASURED
    assert signs(f"{once}; 360.9 h: 37.5 °C; 362 h: 37.0 °C") == NOT_MEASURED
    twice = f"{once}; 361.5 h: 37.0 °C; 362 h: 38.0 °C"
    assert signs(twice)["felt_and_measured_again"] is Truth.TRUE


def test_each_that_was_felt_needs_its_own():
    both = "360 h: sign feels_hot; 360.5 h: 37.0 °C; 363 h: sign feels_cold"
    assert signs(both) == NOT_MEASURED
    assert signs(f"{both}; 363.5 h: 36.6 °C")["felt_and_measured"] is Truth.TRUE


def test_what_was_felt_at_no_known_time_is_not_answered_by_any_temperature():
    case = a_case("girl, 39+3, 3400 g, vaginal", "360 h: 37.0 °C", "20 d")
    felt = review_felt(case, PARAMETERS, {"feels_hot": Sign(present=Truth.TRUE)})
    found = {name: one[0].present for name, one in together(felt).signs.items()}
    assert found == NOT_MEASURED
