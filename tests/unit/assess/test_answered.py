"""Answers that name a flag are answers to it alone."""

from __future__ import annotations

from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.answered import (
    BECOMES,
    answers_in,
    answers_to,
    as_first_entered,
    codes_answered,
)
from suffice.clinical.entry import Answer
from suffice.knowledge.store import load

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


def test_an_answer_covers_what_was_entered_before_it_and_true_before_it():
    entries = record_of(
        BOY, "60 h: 3100 g; 61 h: 3090 g entered 63 h; 62 h: answer physician"
    ).entries
    _, known, entered_later, _ = entries
    answers = answers_in(entries)
    assert answers.cover(known.id)
    assert not answers.cover(entered_later.id)
    assert not answers.cover(known.id, entered_later.id)


def test_one_answer_must_cover_all_of_it():
    seen = "60 h: 3100 g entered 70 h; 62 h: answer physician; 66 h: 3050 g; 68 h: answer physician"
    entries = record_of(BOY, seen).entries
    assert not answers_in(entries).cover(entries[1].id, entries[3].id)


def test_an_answer_that_is_corrected_was_entered_when_it_was_first_entered():
    seen = "60 h: 3100 g; 62 h: answer physician; 62 h: answer hospital in place of 2 entered 90 h"
    record = record_of(BOY, seen)
    entries = as_first_entered(record.entries_at(BORN_AT + age_of("91 h")), record.entries)
    assert entries[-1].entered_at == BORN_AT + age_of("62 h")


def test_an_answer_to_what_a_flag_was_is_one_to_what_time_alone_made_of_it():
    early = record_of(BOY, "60 h: answer physician flag breast-lump-new").entries
    assert codes_answered(early) == ("breast-lump-new", "breast-lump")

    def answered_by(code: str) -> bool:
        facts = [one.fact for one in answers_to(early, code)]
        return any(isinstance(one, Answer) and one.is_of_physician for one in facts)

    assert answered_by("breast-lump-new")
    assert answered_by("breast-lump")
    assert not answered_by("breast-red-longer")


def test_no_answer_goes_back_from_the_later_flag_to_the_first():
    late = record_of(BOY, "60 h: answer physician flag breast-lump").entries
    assert codes_answered(late) == ("breast-lump",)


def test_the_flags_that_time_renames_are_rows_about_one_person():
    rows = {row.code: row for row in load().flags}
    for was, now in BECOMES.items():
        assert rows[was].about == rows[now].about
        assert rows[was].level == "consultant"
        assert rows[now].level == "physician"
