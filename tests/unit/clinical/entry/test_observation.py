"""Observation: round trips are tested for every kind; here stands how its answer is read and said."""

from __future__ import annotations

import pytest

from csv_case import facts, table
from suffice.clinical.entry.observation import Observation
from suffice.knowledge.policy import Policy
from suffice.language.facts import parts_of
from suffice.language.terms import observed
from suffice.language.text import text_of


def test_a_table_tells_it():
    assert facts(table("observation", "nipple_after")) == [Observation(what="nipple_after")]


@pytest.mark.parametrize(
    ("key", "answer", "says"),
    [
        ("nipple_after", "creased", "creased or wedge-shaped"),
        ("nipple_harm", "crack|scab", "crack and scab"),
        ("clicking", "yes", "yes"),
        ("clicking", "no", "no"),
        ("pain_end", "4", "4"),
        ("nipple_after", None, "not asked"),
        ("nipple_after", "no_longer_known", "no_longer_known"),
        ("gone_word", "creased", "creased"),
        ("red_cm2", "12.5", "12.5 cm²"),
        ("pain_end", "much", "much"),
        ("pain_end", "nan", "nan"),
    ],
)
def test_an_answer_is_said_by_its_word_and_what_is_not_known_as_it_stands(key, answer, says):
    assert text_of(observed(key, answer), Policy()) == says


def test_a_line_says_word_answer_and_side():
    parts = parts_of(Observation(what="redness", answer="wedge", side="left"))
    assert [text_of(one, Policy()) for one in parts] == ["redness of the breast", "wedge", "left"]


def test_each_choice_of_several_is_told_apart():
    assert Observation(what="nipple_harm", answer="crack|scab").answers == ("crack", "scab")
    assert Observation(what="nipple_harm").answers == ()
