"""An infant laid out for the reviews."""

from __future__ import annotations

from datetime import timedelta

import pytest

from people import an_entry, an_id
from spec.vignette import record_of
from spoken import text
from suffice.assess.assessment import assess
from suffice.assess.case import (
    case_of,
    named_illnesses,
    possible,
    present_illnesses,
    problem_words,
    refusal_words,
)
from suffice.clinical.entry import Birth, Illness, Infant, Temperature, Weight
from suffice.errors import InputError, Problem
from suffice.knowledge.policy import Policy
from suffice.message import message
from unit.assess.review.reviewed import CONTENT, a_case, instant

BOY = "boy, 39+0, 3500 g, vaginal"


def test_age_is_counted_from_birth_and_back():
    case = a_case(BOY, "20 h: 3400 g", "30 h")
    assert case.age_h == 30
    assert case.age_at(instant("20 h")) == 20
    assert case.at_age(20) == instant("20 h")


def test_without_a_birth_there_is_no_age_and_it_is_said_why():
    case = a_case("nobody knows", "20 h: 3400 g", "30 h")
    assert (case.birth, case.born_at, case.age_h, case.age_at(instant("20 h"))) == (None,) * 4
    assert case.weighings == ()
    with pytest.raises(ValueError, match="no ages"):
        case.at_age(20)
    before = a_case("nobody knows", "20 h: 3400 g", "30 h", is_before_birth=True)
    assert text(before.no_birth) != text(case.no_birth)


def test_what_is_dated_before_birth_is_left_out():
    infant = Infant(id=an_id("infant"), position=1)
    early = an_entry("early", Weight(weight_g=3000), infant=infant, at_h=-1)
    birth = an_entry("birth", Birth(zone="UTC", birth_weight_g=3500.0), infant=infant)
    at_birth = an_entry("same", Temperature(temperature_c=37), infant=infant)
    case = case_of(
        infant,
        "Ada",
        [early, birth, at_birth],
        as_of=birth.true_at + timedelta(hours=2),
        content=CONTENT,
        policy=Policy(zone="UTC"),
    )
    assert case.entries == (birth, at_birth)
    assert [one.weight_g for one in case.weighings] == [3500.0]


def test_facts_come_in_order_of_time_and_the_latest_is_the_last():
    case = a_case(BOY, "20 h: 3400 g; 25 h: 3380 g; 26 h: 37.0 °C", "30 h")
    assert [fact.weight_g for _, fact in case.facts(Weight)] == [3400, 3380]
    entry, fact = case.latest(Weight)
    assert (entry.true_at, fact.weight_g) == (instant("25 h"), 3380)
    assert case.latest(Illness) is None


def test_an_illness_is_present_until_it_is_said_to_have_ended():
    infant = Infant(id=an_id("infant"), position=1)
    said = [("rash", True), ("reflux", True), ("rash", False), ("cold", False), ("rash", True)]
    entries = [
        an_entry(f"{n}", Illness(what=what, present=present), infant=infant, at_h=n)
        for n, (what, present) in enumerate(said)
    ]
    assert present_illnesses(entries) == ["rash", "reflux"]
    assert present_illnesses(entries[:3]) == ["reflux"]
    assert present_illnesses([]) == []


PROBLEM = Problem(code="A-001", what=message("This"), why=message("is odd."), fix=message("Ask."))


def test_a_refusal_is_said_without_its_code_and_every_problem_of_it():
    assert text(problem_words(PROBLEM)) == "This is odd. Ask."
    assert text(problem_words(PROBLEM, with_fix=False)) == "This is odd."
    assert text(refusal_words(InputError(PROBLEM, PROBLEM))).count("This is odd.") == 2


@pytest.mark.parametrize(
    ("infant", "seen"),
    [
        (BOY, "72 h: 0 g"),
        (BOY, "72 h: 3300 g; 20 d: 0 g; 29 d: 3600 g"),
        ("boy, 39+0, 0 g, vaginal", "72 h: 3040 g"),
        (BOY, "20 d: test weight 0 to 0 g"),
        ("nobody knows", "72 h: 0 g"),
    ],
)
def test_a_record_that_holds_a_weight_of_nothing_is_assessed_without_it(infant, seen):
    record = record_of(infant, seen)
    found = assess(record, instant("30 d"), CONTENT, Policy(zone="UTC"), engine=False)
    assert all(row.weight_g > 0 for one in found.infants for row in one.weights)
    kept = tuple(possible(record.entries))
    assert {one.id for one in kept} <= {one.id for one in record.entries}
    assert not any(isinstance(one.fact, Weight) and one.fact.weight_g <= 0 for one in kept)


def test_an_illness_that_ended_and_is_back_is_named_by_its_new_beginning():
    infant = Infant(id=an_id("infant"), position=1)
    told = ("cold", True), ("cold", True), ("cold", False), ("Cold", True), ("cold", True)
    entries = [
        an_entry(f"{n}", Illness(what=what, present=present), infant=infant, at_h=n)
        for n, (what, present) in enumerate(told)
    ]
    assert [(what, one.true_at) for what, one in named_illnesses(entries)] == [
        ("Cold", entries[3].true_at)
    ]
    assert named_illnesses(entries[:2])[0][1] == entries[0]
