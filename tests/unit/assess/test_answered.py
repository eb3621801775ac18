"""Answers that name a flag are answers to it alone."""

from __future__ import annotations

from spec.vignette import record_of
from suffice.assess.answered import answers_to, codes_answered
from suffice.clinical.entry import Answer

BOY = "boy, 39+0, 3400 g, vaginal"
ENTRIES = record_of(
    BOY,
    "60 h: answer physician flag fever; 61 h: answer midwife flag jaundice; 62 h: answer hospital;"
    "63 h: answer physician flag fever",
).entries


def answering(code: str | None) -> list[str | None]:
    """The flags named by the answers of a physician that a row sees."""
    facts = [one.fact for one in answers_to(ENTRIES, code)]
    return [one.flag for one in facts if isinstance(one, Answer) and one.is_of_physician]


def test_a_midwife_ends_no_flag_by_name():
    assert codes_answered(ENTRIES) == ("fever",)


def test_an_answer_by_name_is_none_to_the_rest():
    assert answering(None) == [None]
    assert answering("jaundice") == [None]


def test_it_is_one_to_the_flag_that_it_names():
    assert answering("fever") == ["fever", None, "fever"]


def test_nothing_is_left_out():
    assert [one.id for one in answers_to(ENTRIES, None)] == [one.id for one in ENTRIES]
