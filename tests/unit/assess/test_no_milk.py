"""A flag at which no milk is given holds it back while it is open, and no longer."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import pytest

from people import BORN_AT, an_entry, an_id
from suffice.assess.assessment import assess
from suffice.assess.no_milk import is_given_no_milk
from suffice.assess.results import Finding
from suffice.clinical.entry import Answer, Birth, Infant, Record, Sign
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

CONTENT = load()
WHO = Infant(id=an_id("no milk"), position=1)
BIRTH = Birth(zone="UTC", gestation_days=280, birth_weight_g=3400.0)


def findings(*facts: object) -> tuple[Finding, ...]:
    entries = [
        an_entry(f"{n} {fact}", fact, infant=WHO, at_h=30 + n if n else 0)  # type: ignore[arg-type]
        for n, fact in enumerate((BIRTH, *facts))
    ]
    record = Record(family_id=an_id("no milk family"), infants=(WHO,), entries=tuple(entries))
    as_of = BORN_AT.replace(day=3)
    return assess(record, as_of, CONTENT, Policy(), engine=False).infants[0].findings


@pytest.mark.parametrize("sign", CONTENT.known["no_milk_sign"].signs)
def test_each_sign_of_the_content_holds_it_back(sign: str) -> None:
    assert is_given_no_milk(findings(Sign(sign=sign, present=True)), CONTENT)


def test_another_sign_and_none_do_not() -> None:
    assert not is_given_no_milk(findings(), CONTENT)
    assert not is_given_no_milk(findings(Sign(sign="jaundice", present=True)), CONTENT)


def test_it_ends_with_the_answer_of_a_physician() -> None:
    answered = findings(
        Sign(sign="vomit_green", present=True), Answer(who="physician", found="seen, may feed")
    )
    assert not is_given_no_milk(answered, CONTENT)


def test_what_a_physician_looks_after_is_a_note_and_holds_nothing_back() -> None:
    found = findings(Sign(sign="vomit_green", present=True))
    noted = [msgspec.structs.replace(one, level="note") for one in found]
    assert not is_given_no_milk(noted, CONTENT)


def test_a_content_that_does_not_know_of_such_signs_holds_nothing_back() -> None:
    found = findings(Sign(sign="vomit_green", present=True))
    assert not is_given_no_milk(found, replace(CONTENT, known={}))
