"""Who must know and how soon stands once: in the sentence of a flag, or behind it."""

from __future__ import annotations

import pytest

from spoken import in_sentences
from suffice.assess.results import Finding
from suffice.assess.rules.act_said import act_left_to_say
from suffice.assess.rules.red_flag import PHONED, who_and_how_soon
from suffice.knowledge.schema import Flag
from suffice.knowledge.store import load
from suffice.message import Message, message

ROWS = {row.code: row for row in load().flags}


def found(row: Flag) -> Finding:
    return Finding(
        code=row.code,
        level=row.level,
        colour=row.colour,
        topic=row.topic,
        messages=(Message(row.sentence), message("No physician has answered.")),
        to_whom=who_and_how_soon(row),
    )


def left(row: Flag) -> str:
    return in_sentences(act_left_to_say(found(row)))


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("very-ill", ""),
        ("late-preterm-jaundice", ""),
        ("parent-fever", "To be seen the same day"),
        ("parent-fever-breast", "To be seen the same day"),
        ("dry-day", "To be seen the same day"),
        ("bleeding-again", "Maternity physician, the same day"),
        ("pulse-fast", "Phone the physician now; to be seen the same day"),
        ("fever", "Emergency department, now"),
        ("loss-at-limit", "Physician, the same day"),
        ("self-harm", "Physician or mental health team, the same day, before the call ends"),
    ],
)
def test_what_a_sentence_says_already_is_not_said_behind_it(code: str, says: str) -> None:
    assert left(ROWS[code]) == says


def test_no_row_says_its_act_twice_and_none_says_it_never() -> None:
    for row in ROWS.values():
        if not row.how_soon or row.level == "note":
            continue
        both = f"{row.sentence} {left(row)}".lower()
        who = row.to_whom.lower()
        if row.how_soon not in PHONED:
            assert both.count(f"{who} {row.how_soon}") + both.count(f"{who}, {row.how_soon}") == 1
        else:
            when = "within the hour" if "within the hour" in row.how_soon else "now"
            assert both.count(f"{who} {when}") == 1, row.code


def test_the_maternity_physician_is_named_where_a_fever_is_phoned_about() -> None:
    assert "phone the maternity physician within the hour" in ROWS["parent-fever"].sentence


def test_an_act_in_words_of_another_form_is_said_whole() -> None:
    flag = found(ROWS["very-ill"])
    assert act_left_to_say(Finding(**{**as_dict(flag), "to_whom": ""})) == ""
    assert act_left_to_say(Finding(**{**as_dict(flag), "to_whom": "somebody"})) == "somebody"


def as_dict(flag: Finding) -> dict[str, object]:
    return {name: getattr(flag, name) for name in flag.__struct_fields__}
