"""A fact in words: a field whose declaration has a phrase is said in it, whatever its type."""

from __future__ import annotations

import pytest

from suffice.clinical.entry.field import Answered, Chosen, Counted, Field, Listed, Written
from suffice.knowledge.policy import Policy
from suffice.language.facts import part_of
from suffice.language.text import text_of
from suffice.message import message

PHRASE = message("because of {value}")
LABEL = message("Why")
SIDES = (("left", message("left")), ("right", message("right")))


@pytest.mark.parametrize(
    ("field", "value", "alone"),
    [
        (Written(label=LABEL, phrase=PHRASE, longest_characters=9), "a cold", "a cold"),
        (Chosen(label=LABEL, phrase=PHRASE, choices=SIDES), "left", "left"),
        (Listed(label=LABEL, phrase=PHRASE, vocabulary="signs"), "chills", "shaking chills"),
        (Counted(label=LABEL, phrase=PHRASE, least_count=0, most_count=9), 3, "3"),
    ],
    ids=lambda one: type(one).__name__ if isinstance(one, Field) else "",
)
def test_a_field_with_a_phrase_is_said_in_it(field: Field, value: object, alone: str) -> None:
    assert text_of(part_of(field, value), Policy()) == f"because of {alone}"


def test_what_is_not_known_is_not_said_and_an_empty_text_has_no_phrase() -> None:
    field = Written(label=LABEL, phrase=PHRASE, longest_characters=9)
    assert (part_of(field, None), part_of(field, "")) == ("", "")


def test_yes_and_no_have_phrases_of_their_own() -> None:
    field = Answered(label=LABEL, yes=message("present"), no="")
    assert (text_of(part_of(field, True), Policy()), part_of(field, False)) == ("present", "")
