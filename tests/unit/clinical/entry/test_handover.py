"""Handover: form, line, JSON and round trips are tested for every kind; here stands what is its own."""

import pytest

from csv_case import facts, table
from suffice.clinical.entry.handover import Handover
from suffice.language.facts import parts_of


def test_a_table_tells_it():
    assert facts(table("handed over to", "physician")) == [Handover(to="physician")]


def test_it_names_the_flag_to_whom_and_what_was_asked():
    fact = Handover(flag="illness", to="physician", name="Dr Aalto", how="phone", asked="see her")
    said = [str(part) for part in parts_of(fact)]
    assert said[1:] == ["to: physician", "Dr Aalto", "by: phone", "asked: see her"]
    assert said[0].startswith("about ")
    assert "illness" in said[0]


@pytest.mark.parametrize(
    ("to", "needs_physician"),
    [("emergency service", True), ("hospital", True), ("physician", True), ("midwife", False)],
)
def test_what_a_physician_was_asked_only_a_physician_answers(to, needs_physician):
    assert Handover(to=to).is_to_physician is needs_physician
