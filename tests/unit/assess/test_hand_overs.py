"""A named problem that somebody must be told of leaves no family settled, and nobody is told twice.

How each row ends stands in tests/spec/triage/problems.md.
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from rows import each_row
from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.assessment import assess
from suffice.assess.hand_overs import READ_BY_FLAGS, are_asked, level_of
from suffice.assess.problems import problems_of
from suffice.assess.results import Tier
from suffice.knowledge.asked import read_asked
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.policy import Policy
from suffice.knowledge.problem import HandOver
from suffice.knowledge.store import load

CONTENT = load()
WORDS = CONTENT.vocabularies[FOLDER]
POLICY = Policy(zone="UTC")
GIRL = "girl, 39+4, 3300 g, vaginal"
THRIVING = (
    "5 d: 3130 g; 7 d: 3190 g; 10 d: 3280 g; 14 d: 3430 g; 20 d: 3680 g; 20 d: 7 wets in 24 h;"
    " 20 d: 4 stools in 24 h; 20 d: count of 9 feeds"
)
NUMBERS = (1, 30, 500)
"""Tried of what is answered by a number: below, among and above the limits of most."""


def asked(seen: str, at: str = "20.1 d", infant: str = GIRL):
    record = record_of(infant, seen)
    return record, assess(record, BORN_AT + age_of(at), CONTENT, POLICY, engine=False)


def handed_over_by() -> list[tuple[str, str]]:
    """Every answer to what a hand-over asks."""
    keys = {
        one.find
        for problem in CONTENT.guide.problems.values()
        for over in problem.hand_over
        for one in read_asked(over.when).single()
    }
    every: list[tuple[str, str]] = []
    for key in sorted(keys):
        word = WORDS.get(key)
        if isinstance(word, Observable) and word.type != "text":
            answers = NUMBERS if word.type == "number" else word.answers
            every += [(key, str(answer)) for answer in answers]
    return every


def an_over(level: str, within_h: float) -> HandOver:
    return HandOver(
        level=level, within_h=within_h, to_whom="a physician", when="x is yes", basis="judgement"
    )


def test_the_family_of_these_tests_is_settled():
    assert asked(THRIVING)[1].rank.tier is Tier.SETTLED


@each_row(handed_over_by(), lambda one: f"{one[0]} {one[1]}")
def test_no_answer_that_hands_a_problem_over_leaves_the_family_settled(answer):
    key, said = answer
    about = "parent " if WORDS[key].about == "parent" else ""
    record, found = asked(f"{THRIVING}; 20 d: {about}observed {key} {said}")
    named = next(iter(problems_of(record, found, CONTENT).values())).named
    handed = [over for one in named for over in one.hand_over if not over.is_offer]
    assert not handed or found.rank.tier is not Tier.SETTLED


@pytest.mark.parametrize(
    ("level", "within_h", "expected"),
    [
        ("physician", 24, "physician"),
        ("physician", 24.1, "look"),
        ("consultant", 24, "consultant"),
        ("consultant", 48, "look"),
        ("look", 1, "look"),
        ("note", 1, "look"),
        ("emergency", 1, "physician"),
    ],
)
def test_what_leaves_more_than_a_day_is_looked_at_by_its_date(level, within_h, expected):
    assert level_of(an_over(level, within_h)) == expected


def test_each_emergency_of_a_problem_rests_on_what_flags_read():
    """So that none is called less than an emergency on the list: a flag speaks of it."""
    unread = [
        (key, one.find)
        for key, problem in CONTENT.guide.problems.items()
        for over in problem.hand_over
        if over.level == "emergency"
        for one in read_asked(over.when).single()
        if one.find in WORDS and one.find not in READ_BY_FLAGS and not WORDS[one.find].signs
    ]
    assert not unread


TWINS = "girl, 38+0, 2900 g, vaginal / boy, 38+0, 2800 g, vaginal"
BOTH = (
    "5 d: 2800 g; 10 d: 2950 g; 20 d: 3300 g; 20 d: 7 wets in 24 h; 20 d: 4 stools in 24 h;"
    " 20 d: count of 9 feeds; second 5 d: 2700 g; second 10 d: 2850 g; second 20 d: 3200 g;"
    " second 20 d: 7 wets in 24 h; second 20 d: 4 stools in 24 h; second 20 d: count of 9 feeds"
)


def test_of_twins_the_parents_problem_is_said_once():
    _, found = asked(f"{BOTH}; 20 d: parent observed medicine_worry told_to_stop", infant=TWINS)
    assert [one.code for one in found.findings] == ["parent-problem-today"]


def test_of_twins_the_problem_of_the_second_is_the_seconds():
    _, found = asked(f"{BOTH}; second 20 d: observed held_pain yes", infant=TWINS)
    codes = [[one.code for one in infant.findings] for infant in found.infants]
    assert ["problem-today" in one for one in codes] == [False, True]


def test_after_a_death_the_parents_own_problem_stays_and_the_infants_does_not():
    seen = "20 h: observed held_pain yes; 20 h: parent observed cannot_go_on yes; 30 h: death"
    _, found = asked(seen, at="50 h")
    codes = [one.code for one in (*found.findings, *found.infants[0].findings)]
    assert [code for code in codes if "problem" in code] == ["parent-problem-today"]


def test_it_is_due_by_the_hours_of_its_hand_over():
    _, found = asked(f"{THRIVING}; 20 d: observed head_turn cannot")
    (one,) = (finding for finding in found.infants[0].findings if finding.topic == "problem")
    assert one.due_at == BORN_AT + age_of("27 d")


def test_of_an_unread_question_alone_nothing_is_named():
    assert not are_asked(record_of(GIRL, f"{THRIVING}; 20 d: observed arches yes").entries, CONTENT)


def test_what_was_looked_for_in_vain_is_asked_again_after_a_day():
    _, found = asked(f"{THRIVING}; 20 d: 36.9 °C; 20 d: observed palate whole", at="20.9 d")
    assert found.valid_until <= BORN_AT + age_of("21 d")


@pytest.mark.parametrize(("entered_s", "is_open"), [(50, False), (20, True)])
def test_an_answer_written_to_the_minute_covers_what_was_tapped_in_it(entered_s, is_open):
    """A form says 20:00 of what is entered 50 seconds later; what is tapped after it is not covered."""
    seen = f"{THRIVING}; 20 d: parent observed medicine_worry told_to_stop; 20 d: parent answer physician"
    record = record_of(GIRL, seen)
    *before, tap, answer = record.entries
    tapped_at = tap.true_at + timedelta(seconds=30)
    entries = (
        *before,
        replace(answer, entered_at=answer.true_at + timedelta(seconds=entered_s)),
        replace(tap, true_at=tapped_at, entered_at=tapped_at),
    )
    found = assess(
        replace(record, entries=entries), BORN_AT + age_of("20.1 d"), CONTENT, POLICY, engine=False
    )
    assert ("parent-problem-today" in [one.code for one in found.findings]) is is_open
