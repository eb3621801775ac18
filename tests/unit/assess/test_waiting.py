"""How long what was found may stand behind: common practice, no source gives the hours."""

from __future__ import annotations

from datetime import timedelta

import pytest

from spec.vignette import BORN_AT, age_of, record_of
from spoken import text
from suffice.assess.waiting import latest_answer, latest_next_date, waiting_problems
from suffice.knowledge.store import load

BOY = "boy, 39+0, 3400 g, vaginal"
CONTENT = load()


def said(seen: str) -> list[tuple[str, bool]]:
    """Code and doubt of what is said of the one entry that is seen."""
    return [
        (one.code, one.doubtful)
        for entry in record_of(BOY, seen).entries[1:]
        for one in waiting_problems(entry, CONTENT)
    ]


@pytest.mark.parametrize(
    ("seen", "expected"),
    [
        ("60 h: handed over hospital flag not-rousable by 64 h", []),
        ("60 h: handed over hospital flag not-rousable by 64.1 h", [("HANDOVER-001", False)]),
        ("60 h: handed over physician flag jaundice by 84 h", []),
        ("60 h: handed over physician flag jaundice by 84.1 h", [("HANDOVER-001", False)]),
        ("60 h: handed over midwife flag not-rising by 9 d", []),
        ("60 h: handed over physician by 84 h", []),
        ("60 h: handed over physician by 84.1 h", [("HANDOVER-002", True)]),
        ("60 h: handed over physician flag no-such-flag by 9 d", [("HANDOVER-002", True)]),
        ("60 h: handed over physician", []),
        ("60 h: known jaundice until 30 d", []),
        ("60 h: known jaundice until 400 d", [("KNOWN-001", True)]),
        ("60 h: known jaundice", []),
    ],
)
def test_a_time_far_ahead_is_refused_or_asked_about(seen, expected):
    assert said(seen) == expected


def test_the_year_is_shown():
    (entry,) = record_of(BOY, "60 h: known jaundice until 400 d").entries[1:]
    (problem,) = waiting_problems(entry, CONTENT)
    assert text(problem.what) == "Tue 6 Apr 2027, 04:00"
    assert "28 d" in text(problem.why)


def test_what_is_less_urgent_may_wait_for_a_letter():
    at = BORN_AT + age_of("60 h")
    assert latest_answer("consultant", at, CONTENT) is None
    assert latest_answer("emergency", at, CONTENT) < latest_answer("physician", at, CONTENT)
    assert latest_next_date(at, CONTENT) > at + timedelta(days=7)
