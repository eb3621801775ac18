"""Problems made ready: in order, with sides, and with the answers that each tells apart."""

from __future__ import annotations

from suffice.assess.problems.table import table_of
from suffice.assess.rules.table import Found
from suffice.knowledge.store import load

CONTENT = load()
TABLE = table_of(CONTENT)
READY = {one.key: one for one in TABLE.problems}


def test_the_table_is_made_once_and_keeps_the_order():
    assert table_of(CONTENT) is TABLE
    assert list(READY) == list(CONTENT.guide.problems)
    assert [one.place for one in TABLE.problems] == list(range(len(READY)))


def test_sides_are_asked_where_something_of_it_has_sides():
    assert READY["shallow_latch"].sides == ("left", "right")
    assert READY["late_preterm_feeding"].sides == ("",)


def test_the_answers_that_are_told_apart_lie_on_both_sides_of_a_limit():
    answers = READY["pain_latch"].answers["nipple_after"]
    told = ("creased", "flattened", "white_tip", "round")
    assert {Found((one,)) for one in told} == set(answers)
    numbers = {one.number for one in READY["shallow_latch"].answers["pain_end"]}
    assert {one > CONTENT.constant("problem.painful_points").value for one in numbers} == {
        True,
        False,
    }


def test_what_asks_a_key_is_found_by_it():
    assert READY["pain_latch"] in TABLE.asking["nipple_after"]
    assert "age_h" not in READY["sleepy_newborn"].telling
    assert "wakes_for_feeds" in READY["sleepy_newborn"].telling
