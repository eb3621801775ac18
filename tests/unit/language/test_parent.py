"""The clinic's word for the parent stands wherever the one who gave birth is spoken of."""

from __future__ import annotations

import pytest

from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.parent import in_clinics_word
from suffice.language.text import text_of
from suffice.message import message

MOTHER = Policy(parent_word="mother")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Parent: confused, since today.", "Mother: confused, since today."),
        ("Parent ill, and a flag of the infant", "Mother ill, and a flag of the infant"),
        ("parent's illness in words", "mother's illness in words"),
        ("Illness of the parent noted", "Illness of the mother noted"),
        ("The parent's day", "The mother's day"),
        ("A parent says that something is wrong", "A parent says that something is wrong"),
        ("A leaflet for parents", "A leaflet for parents"),
        ("Parents' class", "Parents' class"),
    ],
)
def test_only_who_gave_birth_is_called_so(text: str, says: str) -> None:
    assert in_clinics_word(text, MOTHER) == says
    assert in_clinics_word(text, Policy()) == text


def test_a_sentence_of_another_language_is_left_as_it_stands() -> None:
    spanish = Policy(parent_word="mother", language="es")
    assert in_clinics_word("parent", spanish) == "parent"


def test_what_was_typed_is_left_as_it_was_typed() -> None:
    noted = message("Illness of the parent noted: {what}.", what="the parent said so")
    assert text_of(noted, MOTHER) == "Illness of the mother noted: the parent said so."


def test_no_flag_of_the_content_says_parent_to_a_clinic_that_says_mother() -> None:
    """'The mother has a fever' stood beside 'Parent: chest pain'."""
    said = [in_clinics_word(row.sentence, MOTHER) for row in load().flags]
    said += [in_clinics_word(row.name, MOTHER) for row in load().flags]
    left = [one for one in said if "parent" in one.replace("{parent}", "").lower()]
    assert all("a parent" in one.lower() for one in left), left
