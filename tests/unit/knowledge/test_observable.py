"""The vocabulary of observations: what makes a word of it wrong, and what all words keep to."""

from __future__ import annotations

import msgspec
import pytest

from suffice.knowledge.observable import FOLDER, KnownFact, Observable, answers_of, faults_of
from suffice.knowledge.store import load

CONTENT = load()
WORDS = CONTENT.vocabularies[FOLDER]
SIGNS = CONTENT.vocabularies["signs"]
GAPE = WORDS["gape"]
PAIN = WORDS["pain_end"]


def faults(one):
    return list(faults_of(one, CONTENT.units, SIGNS))


def test_no_word_of_the_content_is_wrong():
    assert {key: faults(one) for key, one in WORDS.items() if faults(one)} == {}
    assert {key: faults(one) for key, one in CONTENT.known.items() if faults(one)} == {}


@pytest.mark.parametrize(
    ("one", "change", "says"),
    [
        (GAPE, {"choices": {}, "expected": ()}, "choices exactly where"),
        (GAPE, {"choices": {"Wide": "wide"}, "expected": ()}, "small letters"),
        (GAPE, {"choices": {"a": "wide", "b": "wide"}, "expected": ()}, "called the same"),
        (GAPE, {"expected": ("wide",)}, "one of its answers"),
        (GAPE, {"signs": {"short": "breast_red"}}, "about the same person"),
        (GAPE, {"signs": {"short": "nowhere"}}, "about the same person"),
        (GAPE, {"looks": {"clear": "a", "short": "b"}}, "drawn three times"),
        (GAPE, {"drawing": False}, "drawn three times"),
        (GAPE, {"by": ()}, "somebody"),
        (GAPE, {"unit": "mL"}, "has a unit"),
        (CONTENT.known["milk_not_in"], {"about": "parent"}, "about the same person"),
        (CONTENT.known["milk_not_in"], {"signs": ("nowhere",)}, "about the same person"),
        (PAIN, {"unit": ""}, "has a unit"),
        (PAIN, {"unit": "stones"}, "has a unit"),
        (PAIN, {"least": 10.0}, "smallest"),
        (WORDS["medicines"], {"by_side": True}, "a text has no side"),
    ],
)
def test_a_word_that_is_wrong_is_found(one, change, says):
    assert any(
        says in fault.template for fault in faults(msgspec.structs.replace(one, **change))
    ), change


def test_yes_and_no_are_the_answers_where_nothing_is_chosen_and_a_number_has_none():
    assert answers_of(WORDS["clicking"]) == ("yes", "no")
    assert answers_of(GAPE) == GAPE.answers == ("clear", "borderline", "short", "cannot_tell")
    assert answers_of(PAIN) == ()
    known = KnownFact(about="infant", name="n", type="yes or no", follows_from="x")
    assert known.answers == ("yes", "no")


def test_pain_is_a_scale_to_tap_and_a_total_is_typed():
    assert PAIN.scale == ("0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "10")
    assert {key for key, one in WORDS.items() if one.scale} == {
        "pain_start", "pain_end", "pain_between"
    }  # fmt: skip


def test_nothing_is_entered_twice():
    """What is a kind of entry already is known, and stands in no part of the contact."""
    assert CONTENT.known.keys() & WORDS.keys() == set()
    kinds = {"loss_percent", "feeds_24h", "infant_temperature_c", "gestation_wk", "birth_mode"}
    assert kinds <= CONTENT.known.keys()


def test_the_parts_stand_in_their_order_and_hold_all_words():
    assert [one.place for one in CONTENT.parts.values()] == sorted(
        one.place for one in CONTENT.parts.values()
    )
    assert {one.part for one in WORDS.values() if isinstance(one, Observable)} == set(CONTENT.parts)
