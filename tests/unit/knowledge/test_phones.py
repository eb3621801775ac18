"""The numbers to call: each is a setting of the policy, and a sheet prints it or says that it is missing."""

from __future__ import annotations

import msgspec

from paper_source import folder
from suffice.documents.teaching_sheet import fact_words
from suffice.knowledge.phones import PHONES
from suffice.knowledge.policy import Policy
from suffice.knowledge.sheet import Fact
from suffice.knowledge.store import load
from suffice.language.text import text_of


def test_each_is_a_setting_that_may_be_empty() -> None:
    fields = {field.name: field.default for field in msgspec.structs.fields(Policy)}
    assert [fields[one] for one in PHONES] == [""] * len(PHONES)


def test_a_sheet_prints_the_number_or_asks_for_it() -> None:
    content, sheet = load(), load().sheets["danger"]
    fact = Fact(says="Call {crisis_number}.", basis="judgement")
    for policy, said in (
        (Policy(crisis_number="555-0177"), "Call 555-0177."),
        (Policy(), "Call ask the clinic to fill in: ______."),
    ):
        assert text_of(fact_words(content, policy, sheet, fact), policy) == said


def test_whoever_is_in_danger_finds_the_number_in_the_first_box() -> None:
    source = folder("thriving", crisis_number="555-0177").source
    first = source.content.sheets["danger"].first
    said = text_of(
        fact_words(source.content, source.policy, source.content.sheets["danger"], first),
        source.policy,
    )
    assert said.startswith("Call the crisis line now: *555-0177*.")
